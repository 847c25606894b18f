import type { ScanPlan } from '../../planner/plan/types.ts';
import { presentTile, type RunMachine } from './machine.ts';

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
  const next = presentTile(machine);
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
      return next && machine.after?.kind !== 'park' ? `Trying ${place} again.` : 'Making the instrument safe.';
    case 'parked':
      return `Parked${next ? ` before ${place}` : ''}: ${reasonWords(machine.cause)}. Everything recorded so far is kept.`;
    case 'finished':
      return finishedSentence(where);
    case 'failed':
      return `The run failed: ${reasonWords(machine.cause)}. Everything recorded so far is kept.`;
  }
}

/** "K-08, tile 31 of 56": a tile as a person counts, within its chip. */
export function tilePlace(tile: number, chip: string, plan: ScanPlan): string {
  const planned = plan.chips.find((each) => each.name === chip);
  const first = planned?.tiles[0]?.index ?? 0;
  return `${chip}, tile ${tile - first + 1} of ${planned?.tiles.length ?? 0}`;
}

function finishedSentence({ plan, flagged, skipped }: Whereabouts): string {
  const tiles = skipped > 0 ? `${plan.tileCount - skipped} of ${plan.tileCount} tiles` : `${plan.tileCount} tiles`;
  return `Done: ${tiles}, ${flagged} ${flagged === 1 ? 'flake' : 'flakes'} flagged.`;
}

const words: Readonly<Record<string, string>> = {
  stopAsked: 'it was stopped',
  diskFull: 'the disk is full',
  focusNotFound: 'focus was not found',
  positionLost: 'the stage has lost its position',
  disconnected: 'a device does not answer any more',
  stalled: 'the stage or the focus drive did not get where it was sent',
  timeout: 'a device did not answer in time',
  noFrame: 'the camera gave no frame',
  badFrame: 'the camera gave a spoilt frame',
  limit: 'a move would have gone beyond a limit',
  black: 'the frame is black',
  saturated: 'the frame is too bright to be measured',
  outOfFocus: 'the frame is out of focus',
  wrongSize: 'the frame has another size than the camera says',
  noSubstrate: 'no bare oxide can be seen',
  torn: 'parts of the frame are missing or from elsewhere',
  noDetail: 'every pixel of the frame is the same',
  classifierFailed: 'the classifier failed on it',
  workerLost: 'the classifier does not run any more',
  badReply: 'a device gave an answer that cannot be read',
  writeFailed: 'a file could not be written',
  internal: 'Nightjar itself failed',
};

/** Why a tile was left out or a run parked, in words; a code without words of its own is said as it is. */
export function reasonWords(code: string): string {
  return words[code] ?? code;
}
