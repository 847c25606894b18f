import { WorkerPool } from '../classify/pool.ts';
import { NightjarError } from '../errors/index.ts';
import { faultList, parseFault } from '../rehearse/faultWish.ts';
import { rehearse, type Rehearsal } from '../rehearse/rehearse.ts';
import type { AddCommand, CommandContext } from './context.ts';
import { readNightFiles } from './inputs.ts';
import { usualWorkers } from './nightWork.ts';
import { bytesText, durationText, tableText } from './words.ts';

interface RehearseOptions {
  readonly instrument: string;
  readonly fault?: string;
  readonly faults?: boolean;
  readonly json?: boolean;
}

/** `nightjar rehearse RUNSHEET`: the night on a simulated twin of the instrument, in seconds. */
export const rehearseCommand: AddCommand = (program, context, done) => {
  program
    .command('rehearse')
    .description('run the sheet on a simulated twin of the instrument, in seconds: time, disk, and what would happen under a fault; nothing real moves')
    .argument('[runsheet]', 'what to scan tonight (YAML)')
    .option('-i, --instrument <file>', 'the instrument file', 'instrument.yaml')
    .option('--fault <name>', 'let this go wrong half-way, or at NAME@TILE or NAME@SHARE (unplug:stage@12, loseLamp@75%)')
    .option('--faults', 'list what can be made to go wrong')
    .option('--json', 'print it as JSON')
    .action(async (runSheetFile: string | undefined, options: RehearseOptions) => {
      done(await run(context, runSheetFile, options));
    });
};

async function run(context: CommandContext, runSheetFile: string | undefined, options: RehearseOptions): Promise<number> {
  if (options.faults) {
    context.output.write(`${tableText(['fault', 'what happens'], faultList().map(({ name, sentence }) => [name, sentence]), new Set())}\n`);
    return 0;
  }
  if (runSheetFile === undefined) throw new NightjarError('badUsage', { reason: 'Name a run sheet, or list the faults with --faults' });
  const fault = options.fault === undefined ? undefined : parseFault(options.fault);
  const files = await readNightFiles(runSheetFile, options.instrument);
  const pool = new WorkerPool(usualWorkers(), context.clock);
  try {
    const begunMs = context.clock.now();
    const rehearsal = await rehearse({ files, clock: context.clock, pool, signal: context.interrupted, tell: () => undefined, ...(fault ? { fault } : {}) });
    if (context.interrupted.aborted) throw new NightjarError('interrupted', {});
    context.output.write(options.json ? `${JSON.stringify(rehearsal, null, 2)}\n` : rehearsalText(rehearsal, (context.clock.now() - begunMs) / 1000));
    return 0;
  } finally {
    await pool.close();
  }
}

const told = (value: boolean | null, yes: string, no: string): string => (value === null ? 'not known: it did not answer' : value ? yes : no);

function rehearsalText(it: Rehearsal, tookS: number): string {
  const off = it.rehearsedS / Math.max(1, it.forecastS) - 1;
  const { planned, done, skipped } = it.tiles;
  const chips = tableText(['chip, in this order', 'tiles', 'focus points'], it.chips.map(({ name, tiles, focusPoints }) => [name, String(tiles), String(focusPoints)]), new Set([1, 2]));
  const happened = it.events.filter(({ kind }) => kind !== 'flake').map(({ atS, text }) => `${durationText(atS).padStart(12)}  ${text}`);
  const fault = it.fault ? [`Fault: ${it.fault.name}, ${it.fault.sentence}${it.fault.atS === null ? '. The night was over before it came to that.' : `, after ${it.fault.afterTile} tiles (${durationText(it.fault.atS)}).`}`] : [];
  return [
    'A rehearsal on a simulated twin: motion, focus, faults and records. Frames are coarse, and only their light is read: nothing is said of flakes, dirt or contrast.',
    '',
    chips,
    '',
    `Forecast ${durationText(it.forecastS)}, rehearsed ${durationText(it.rehearsedS)} (${off < 0 ? '' : '+'}${Math.round(100 * off)} %)${it.closeUpsS > 0 ? `, and up to ${durationText(it.closeUpsS)} for close-ups, which are not rehearsed` : ''}. Disk about ${bytesText(it.diskBytes)} by the plan.`,
    ...fault,
    ...(happened.length > 0 ? ['', 'What happened:', ...happened] : []),
    '',
    `In the end: ${it.state}${it.cause ? ` (${it.cause})` : ''}; ${done} of ${planned} tiles done, ${skipped} left out; lamp ${told(it.lampIsOff, 'off', 'ON')}; objective ${told(it.objectiveIsUp, 'up', 'NOT UP')}.`,
    `Rehearsed in ${durationText(tookS)}. Nothing real was moved, and nothing was written to your data folder.`,
    '',
  ].join('\n');
}
