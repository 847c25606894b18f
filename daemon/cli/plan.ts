import { writeFile } from 'node:fs/promises';
import type { ScanPlan } from '../../planner/plan/types.ts';
import { opticalPathFor } from '../config/resolve.ts';
import type { NightFiles } from '../run/openNight.ts';
import { planNight } from '../run/planNight.ts';
import type { AddCommand } from './context.ts';
import { readNightFiles } from './inputs.ts';
import { planSvg, type FrameShape } from './planSvg.ts';
import { bytesText, durationText, tableText } from './words.ts';

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
      context.output.write(options.json ? `${JSON.stringify(plan, null, 2)}\n` : planText(plan));
      done(0);
    });
};

function frameShape({ sheet, config }: NightFiles): FrameShape {
  const { cameraToStageUm } = opticalPathFor(sheet.opticalPath, config);
  return { cameraToStageUm, widthPx: config.camera.widthPx, heightPx: config.camera.heightPx };
}

function planText(plan: ScanPlan): string {
  const rows = plan.chips.map((chip) => [chip.name, chip.areaMm2.toFixed(1), String(chip.tiles.length), String(chip.focusPointsUm.length)]);
  const table = tableText(['chip', 'scanned mm²', 'tiles', 'focus points'], rows, new Set([1, 2, 3]));
  const field = `${Math.round(plan.fieldWidthUm)} × ${Math.round(plan.fieldHeightUm)} µm`;
  return `${table}\n\n${plan.tileCount} tiles of ${field}, about ${durationText(plan.forecastS)}, about ${bytesText(plan.diskBytes)} on disk.\n`;
}
