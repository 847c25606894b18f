import type { Flake, LayerCall } from '../../planner/flakes/types.ts';
import type { ScanPlan } from '../../planner/plan/types.ts';
import type { CloseUpChoice } from '../closeUps/pass.ts';
import type { CloseUpRecord } from '../records/types.ts';
import { presentCloseUp, presentTile, type RunMachine } from './machine.ts';
import { policyFor } from './policies.ts';

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
  const place = next ? tilePlace(next.tile, next.chip, where.plan) : closeUpPlace(machine);
  switch (machine.phase) {
    case 'preflight':
      return 'Making ready: objective up, light on, camera set.';
    case 'scanning':
      if (where.focusPoint) return `Finding focus on ${where.focusPoint.chip}, point ${where.focusPoint.point + 1} of ${where.focusPoint.of}.`;
      if (presentCloseUp(machine) !== undefined) return `Looking again at ${place}.`;
      return next ? `Scanning ${place}.` : 'Writing down the last tiles.';
    case 'waiting':
      return `Waiting for the classifier before ${place}.`;
    case 'paused':
      return place === '' ? 'Paused at the end.' : `Paused before ${place}.`;
    case 'recovering':
      if (place === '' || machine.after?.kind === 'park') return 'Making the instrument safe.';
      if (waitsForReturn(machine.cause)) return `Waiting before ${place}: ${reasonWords(machine.cause)}. It is looked for every second, for ten minutes.`;
      if (!machine.isPrepared) return 'Making ready once more.';
      return next ? `Trying ${place} again.` : `Making ready for ${place}.`;
    case 'parked':
      return `Parked${place === '' ? '' : ` before ${place}`}: ${reasonWords(machine.cause)}. Everything recorded so far is kept.`;
    case 'finished':
      return finishedSentence(where);
    case 'failed':
      return `The run failed: ${reasonWords(machine.cause)}. Everything recorded so far is kept.`;
  }
}

/** Whether devices are waited for after this trouble. An axis that has lost its place is there, and homed. */
function waitsForReturn(code: string): boolean {
  const policy = policyFor(code);
  return policy.act === 'retry' && policy.mend === 'awaitReturn' && code !== 'positionLost';
}

/** "K-08, tile 31 of 56": a tile as a person counts, within its chip. */
export function tilePlace(tile: number, chip: string, plan: ScanPlan): string {
  const planned = plan.chips.find((each) => each.name === chip);
  const first = planned?.tiles[0]?.index ?? 0;
  return `${chip}, tile ${tile - first + 1} of ${planned?.tiles.length ?? 0}`;
}

/** "40 s", "12 min", "3 h 5 min". */
export function lengthOfTime(seconds: number): string {
  if (seconds < 90) return `${Math.round(seconds)} s`;
  const minutes = Math.round(seconds / 60);
  return minutes < 90 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${minutes % 60} min`;
}

/** "flake 3 of 12": the place among those that are looked at again; empty where there is none. */
function closeUpPlace(machine: RunMachine): string {
  return presentCloseUp(machine) === undefined ? '' : `flake ${machine.closeUps.at + 1} of ${machine.closeUps.todo.length}`;
}

/** How many flakes are looked at again, of how many that are worth it. */
export function choiceSentence({ flakes, of, seconds }: CloseUpChoice): string {
  if (of === 0) return 'No flake is worth looking at again.';
  if (flakes.length === 0) return `None of ${of} flakes can be looked at again in the time there is for it.`;
  return `${flakes.length} of ${of} flakes are looked at again, in about ${seconds < 90 ? `${Math.ceil(seconds)} s` : `${Math.ceil(seconds / 60)} min`}.`;
}

/** What a close-up has brought for the flake's best terrace. */
export function closeUpSentence(closeUp: CloseUpRecord, flake: Flake | undefined): string {
  const name = `${closeUp.chip}, flake ${closeUp.flakeId}`;
  if (closeUp.outcome === 'skipped') return `${name}: not looked at again, ${reasonWords(closeUp.reason)}.`;
  const [seen] = closeUp.terraces;
  const before = seen && flake?.terraces[seen.terrace]?.call;
  return before ? `${name}: looked at again, ${callWords(seen.together)} (${callWords(before)} before).` : `${name}: looked at again, without a better count.`;
}

function callWords({ layers, probability }: LayerCall): string {
  if (layers === null) return 'not counted';
  return `${layers} ${layers === 1 ? 'layer' : 'layers'} at ${Math.floor(100 * probability)} %`;
}

function finishedSentence({ plan, flagged, skipped }: Whereabouts): string {
  const tiles = skipped > 0 ? `${plan.tileCount - skipped} of ${plan.tileCount} tiles` : `${plan.tileCount} tiles`;
  return `Done: ${tiles}, ${flagged} ${flagged === 1 ? 'flake' : 'flakes'} flagged.`;
}

const words: Readonly<Record<string, string>> = {
  stopAsked: 'it was stopped',
  closed: 'a device was closed',
  unsafeHeight: 'a move would have been made with the objective too low',
  tooFast: 'a move would have been too fast',
  lampLimit: 'the lamp would have been brighter than is allowed',
  noProgress: 'nothing went on any more, and nobody knows why',
  lampFaded: 'the lamp has faded to less than half its light',
  diskFull: 'the disk is full',
  focusNotFound: 'focus was not found',
  focusLost: 'focus was lost',
  positionLost: 'an axis does not know where it is, and `nightjar home` is needed',
  disconnected: 'a device does not answer any more',
  noAnswer: 'a device says nothing any more',
  pipeEnded: 'the command that gives frames has ended',
  alarm: 'the controller of the stage stands in alarm',
  stalled: 'the stage or the focus drive did not get where it was sent',
  timeout: 'a device did not answer in time',
  noFrame: 'the camera gave no frame',
  badFrame: 'the camera gave a spoilt frame',
  cutOff: 'the program ended in the middle of it',
  blackFrame: 'the frame was black',
  fullFrame: 'the frame was at full scale',
  limit: 'a move would have gone beyond a limit',
  black: 'the frame is black',
  saturated: 'the frame is too bright to be measured',
  outOfFocus: 'the frame is out of focus',
  wrongSize: 'the frame has another size than the camera says',
  noSubstrate: 'no bare oxide can be seen',
  torn: 'parts of the frame are missing or from elsewhere',
  noDetail: 'every pixel of the frame is the same',
  noKnownFlake: 'nothing like it lies near its place',
  classifierFailed: 'the classifier failed on it',
  workerLost: 'the classifier does not run any more',
  badReply: 'a device gave an answer that cannot be read',
  writeFailed: 'a file could not be written',
  notLinear: 'the camera is not linear',
  internal: 'Nightjar itself failed',
};

/** Why a tile was left out or a run parked, in words; a code without words of its own is said as it is. */
export function reasonWords(code: string): string {
  return words[code] ?? code;
}
