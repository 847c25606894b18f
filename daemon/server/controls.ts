/** Who may move the instrument: one browser at a time. A pure machine; controlsDesk.ts carries it. Times are ms on the server's clock. */

/** The controls are free again when their holder has used them for nothing in so long. */
export const UNUSED_MS = 10 * 60_000;
/** A holder whose browser is gone (closed, asleep, off the network) has so long to come back. */
export const GONE_MS = 60_000;
/** A holder who was asked and neither answers nor does anything in so long gives way. */
export const ANSWER_MS = 60_000;

/** A browser as the machine knows it, and what people know it by. */
export interface Person {
  readonly browser: string;
  readonly name: string;
}

export interface Holder extends Person {
  readonly sinceMs: number;
  readonly usedMs: number;
  /** Since when its browser is gone; left out while it is there. */
  readonly goneMs?: number;
}

export interface Asker extends Person {
  readonly atMs: number;
}

/** An asker waits for a holder; without one nobody needs to ask. */
export interface ControlsState {
  readonly holder?: Holder;
  readonly asker?: Asker;
}

export type ControlsEvent =
  /** Takes free controls, keeps one's own, or asks whoever holds them. */
  | { readonly type: 'take'; readonly by: Person }
  /** Gives up what one holds, or what one asked for. */
  | { readonly type: 'giveUp'; readonly browser: string }
  /** The holder says no to whoever asked. */
  | { readonly type: 'keep'; readonly browser: string }
  /** The holder did something with them: a sign of life too. */
  | { readonly type: 'use'; readonly browser: string }
  | { readonly type: 'left'; readonly browser: string }
  | { readonly type: 'came'; readonly browser: string }
  | { readonly type: 'time' };

export const FREE: ControlsState = {};

/** When the controls pass on by themselves if nothing happens; `undefined` while they are free. */
export function endsMs({ holder, asker }: ControlsState): number | undefined {
  if (!holder) return undefined;
  const ends = [holder.usedMs + UNUSED_MS, ...(holder.goneMs === undefined ? [] : [holder.goneMs + GONE_MS]), ...(asker ? [asker.atMs + ANSWER_MS] : [])];
  return Math.min(...ends);
}

function heldBy({ browser, name }: Person, nowMs: number): ControlsState {
  return { holder: { browser, name, sinceMs: nowMs, usedMs: nowMs } };
}

/** To whoever waits for them, or to nobody. */
function passedOn({ asker }: ControlsState, nowMs: number): ControlsState {
  return asker ? heldBy(asker, nowMs) : FREE;
}

function withoutAsker({ holder }: ControlsState): ControlsState {
  return holder ? { holder } : FREE;
}

function take(state: ControlsState, by: Person, nowMs: number): ControlsState {
  const { holder, asker } = state;
  if (!holder) return heldBy(by, nowMs);
  if (holder.browser === by.browser) return { ...withoutAsker(state), holder: { ...holder, name: by.name, usedMs: nowMs } };
  // The first who asked is the next; the others see who that is.
  return asker ? state : { holder, asker: { browser: by.browser, name: by.name, atMs: nowMs } };
}

function ofHolder(state: ControlsState, holder: Holder, event: ControlsEvent, nowMs: number): ControlsState {
  const { goneMs: _, ...there } = holder;
  switch (event.type) {
    case 'giveUp':
      return passedOn(state, nowMs);
    case 'keep':
    case 'use':
      return { holder: { ...there, usedMs: nowMs } };
    case 'left':
      return { ...state, holder: { ...there, goneMs: nowMs } };
    case 'came':
      return { ...state, holder: there };
    case 'take':
    case 'time':
      return state;
  }
}

/**
 * The controls after one event. What runs out by time is taken into account first, so that an event never meets a state that was over.
 */
export function step(before: ControlsState, event: ControlsEvent, nowMs: number): ControlsState {
  const ends = endsMs(before);
  const state = ends !== undefined && nowMs >= ends ? passedOn(before, nowMs) : before;
  if (event.type === 'time') return state;
  if (event.type === 'take') return take(state, event.by, nowMs);
  if (state.holder?.browser === event.browser) return ofHolder(state, state.holder, event, nowMs);
  const isAsker = state.asker?.browser === event.browser;
  return isAsker && (event.type === 'giveUp' || event.type === 'left') ? withoutAsker(state) : state;
}

/** True when this browser holds them. */
export function holds(state: ControlsState, browser: string): boolean {
  return state.holder?.browser === browser;
}
