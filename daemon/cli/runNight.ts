import { constancyOf, type Constancy } from '../constancy/line.ts';
import { NightjarError, type ExitCode } from '../errors/index.ts';
import type { RunMachine } from '../run/machine.ts';
import type { OpenedNight } from '../run/openNight.ts';
import type { FlakeView } from '../server/messages.ts';
import type { CommandContext } from './context.ts';
import { flakeTable } from './flakeTable.ts';
import type { NightWork } from './nightWork.ts';
import { ProgressBar, type Output } from './progressBar.ts';

/** What a script wants to know of a night. */
export interface NightSummary {
  readonly runId: string;
  readonly title: string;
  readonly state: RunMachine['phase'];
  readonly cause: string;
  readonly tiles: { readonly planned: number; readonly done: number; readonly skipped: number };
  readonly flakes: readonly SummaryFlake[];
  /** How steady the instrument is and those who judge. */
  readonly constancy: Constancy;
}

interface SummaryFlake {
  readonly id: string;
  readonly chip: string;
  readonly layers: number | null;
  readonly usableUm: number;
  readonly areaUm2: number;
  readonly stageUm: readonly [number, number];
  readonly chipUm: readonly [number, number];
}

/** Runs a night to its end with a progress bar. The first Ctrl-C halts the motion and parks, the second ends the process. */
export async function runWithProgress(context: CommandContext, work: NightWork, opened: OpenedNight, output: Output): Promise<{ machine: RunMachine; exitCode: ExitCode }> {
  if (context.interrupted.aborted) throw new NightjarError('interrupted', {});
  const bar = new ProgressBar(output);
  const leave = work.observatory.board.subscribe((message) => {
    if (message.type === 'progress') bar.show(message.progress);
  });
  work.teller?.begin(opened);
  const interrupt = (): void => {
    work.observatory.stop().catch((error: unknown) => work.log.error({ err: error }, 'stop'));
  };
  context.interrupted.addEventListener('abort', interrupt, { once: true });
  try {
    const machine = await work.observatory.runNight(opened);
    work.teller?.ended();
    return { machine, exitCode: exitCodeOf(machine, context.interrupted.aborted) };
  } catch (error) {
    work.teller?.ended(error);
    throw error;
  } finally {
    context.interrupted.removeEventListener('abort', interrupt);
    leave();
    bar.end();
  }
}

function exitCodeOf(machine: RunMachine, interrupted: boolean): ExitCode {
  if (machine.phase === 'finished') return 0;
  if (interrupted) return 130;
  return machine.phase === 'parked' ? 3 : 1;
}

/** The flagged flakes, best first, as the page shows them. */
export function flaggedViews(work: NightWork): readonly FlakeView[] {
  const { board } = work.observatory;
  return board.flagged().flatMap((flake) => board.flake(flake.id) ?? []);
}

export function summaryOf(work: NightWork, opened: OpenedNight, machine: RunMachine): NightSummary {
  const tiles = work.records.tileHeads(opened.runId);
  return {
    runId: opened.runId,
    title: opened.sheet.title,
    state: machine.phase,
    cause: machine.cause,
    tiles: { planned: opened.plan.tileCount, done: tiles.filter((tile) => tile.outcome === 'done').length, skipped: tiles.filter((tile) => tile.outcome === 'skipped').length },
    flakes: flaggedViews(work).map(({ flake, chipXUm, chipYUm }) => ({
      id: flake.id,
      chip: flake.chip,
      layers: flake.layers,
      usableUm: round(flake.usableUm),
      areaUm2: round(flake.areaUm2),
      stageUm: [round(flake.centreUm.xUm), round(flake.centreUm.yUm)],
      chipUm: [round(chipXUm), round(chipYUm)],
    })),
    constancy: constancyOf(work.records, opened.runId),
  };
}

/** The end of a night for a person: what became of it, then the best flakes. */
export function summaryText(work: NightWork, opened: OpenedNight): string {
  const { progress, events } = work.observatory.board.snapshot();
  const trouble = progress?.state === 'finished' ? undefined : events.findLast((event) => event.kind === 'trouble');
  const { line } = constancyOf(work.records, opened.runId);
  return `\n${opened.sheet.title}\n${progress?.sentence ?? ''}\n${trouble ? `${trouble.text}\n` : ''}\n${flakeTable(flaggedViews(work))}${line === '' ? '' : `\n\n${line}`}`;
}

function round(value: number): number {
  return Math.round(value * 100) / 100;
}
