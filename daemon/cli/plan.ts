import { writeFile } from 'node:fs/promises';
import { planScan } from '../../planner/plan/planScan.ts';
import type { ScanPlan } from '../../planner/plan/types.ts';
import { opticalPathFor, planRequestFor } from '../config/resolve.ts';
import type { NightFiles } from '../run/openNight.ts';
import { planNight } from '../run/planNight.ts';
import type { AddCommand } from './context.ts';
import { readNightFiles } from './inputs.ts';
import { planSvg, type FrameShape } from './planSvg.ts';
import { planText, type PathPlan } from './planText.ts';

interface PlanOptions {
  readonly instrument: string;
  readonly picture?: string;
  readonly json?: boolean;
}

/** `nightjar plan RUNSHEET`: what the night would be, without moving anything. */
export const planCommand: AddCommand = (program, context, done) => {
  program
    .command('plan')
    .description('tiles, route, time and disk of a run sheet; nothing moves')
    .argument('<runsheet>', 'what to scan tonight (YAML)')
    .option('-i, --instrument <file>', 'the instrument file', 'instrument.yaml')
    .option('-p, --picture <file>', 'draw chips, tiles, route and focus points as SVG')
    .option('--json', 'print the whole plan, every tile in the order of the route')
    .action(async (runSheetFile: string, options: PlanOptions) => {
      const files = await readNightFiles(runSheetFile, options.instrument);
      const plan = planNight(files.sheet, files.config);
      if (options.picture !== undefined) await writeFile(options.picture, planSvg(plan, frameShape(files), files.sheet.title));
      context.output.write(options.json ? `${JSON.stringify(plan, null, 2)}\n` : planText(plan, files.sheet.opticalPath, pathPlans(files, plan)));
      done(0);
    });
};

function frameShape({ sheet, config }: NightFiles): FrameShape {
  const { cameraToStageUm } = opticalPathFor(sheet.opticalPath, config);
  return { cameraToStageUm, widthPx: config.camera.widthPx, heightPx: config.camera.heightPx };
}

/** The chosen path's plan is at hand; the others are made for comparison. */
function pathPlans({ sheet, config }: NightFiles, plan: ScanPlan): readonly PathPlan[] {
  return Object.entries(config.opticalPaths).map(([path, { objective }]) => {
    if (path === sheet.opticalPath) return { path, objective, plan };
    const result = planScan(planRequestFor({ ...sheet, opticalPath: path }, config));
    return { path, objective, plan: result.ok ? result.plan : undefined };
  });
}
