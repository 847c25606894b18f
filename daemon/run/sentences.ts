import type { ScanPlan } from '../../planner/plan/types.ts';
import type { RunMachine } from './machine.ts';

/** Where in the plan the run is: what the sentence needs beside the machine's state. */
export interface Whereabouts {
  readonly plan: ScanPlan;
  readonly flagged: number;
  readonly skipped: number;
  /** Set while a chip's focus is measured. */
  readonly focusPoint?: { readonly chip: string; readonly point: number; readonly of: number };
}

/** What is happening now, in one sentence. */
export function nowSentence(machine: RunMachine, where: Whereabouts): string {
  const next = machine.todo[0];
  const place = next ? tilePlace(next.tile, next.chip, where.plan) : '';
  switch (machine.phase) {
    case 'preflight':
      return 'Making ready: objective up, light on, camera set.';
    case 'scanning':
      if (where.focusPoint) return `Finding focus on ${where.focusPoint.chip}, point ${where.focusPoint.point + 1} of ${where.focusPoint.of}.`;
      return next ? `Scanning ${place}.` : 'Writing down the last tiles.';
    case 'waiting':
      return `Waiting for the classifier before ${place}.`;
    case 'paused':
      return `Paused before ${place}.`;
    case 'recovering':
      return next ? `Trying ${place} again.` : 'Making the instrument safe.';
    case 'parked':
      return `Parked${next ? ` before ${place}` : ''}. Everything recorded so far is kept.`;
    case 'finished':
      return finishedSentence(where);
    case 'failed':
      return 'The run failed. Everything recorded so far is kept.';
  }
}

function tilePlace(tile: number, chip: string, plan: ScanPlan): string {
  const planned = plan.chips.find((each) => each.name === chip);
  const first = planned?.tiles[0]?.index ?? 0;
  return `${chip}, tile ${tile - first + 1} of ${planned?.tiles.length ?? 0}`;
}

function finishedSentence({ plan, flagged, skipped }: Whereabouts): string {
  const tiles = skipped > 0 ? `${plan.tileCount - skipped} of ${plan.tileCount} tiles` : `${plan.tileCount} tiles`;
  return `Done: ${tiles}, ${flagged} ${flagged === 1 ? 'flake' : 'flakes'} flagged.`;
}
