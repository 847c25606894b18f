import { NightjarError } from '../errors/index.ts';
import { endsMs, FREE, holds, step } from './controls.ts';
import type { ControlsEvent, ControlsState } from './controls.ts';
import type { ServerLog } from './log.ts';
import type { ClientMessage, ControlsView } from './messages.ts';
import { NEEDS } from './permissions.ts';
import type { Secrets } from './secrets.ts';

const KEY_BYTES = 16;

/** One open browser at the desk. Its key is its own secret: with it, a page that was reloaded or lost its line is known again. */
export interface Seat {
  key: string;
  /** What it is called when nobody typed a name. */
  readonly where: string;
}

export interface DeskParts {
  readonly secrets: Secrets;
  readonly log: ServerLog;
  readonly now: () => number;
  /** Called after each change: all browsers are to be told. */
  changed(): void;
}

/** Where browsers take the controls, ask for them and give them up. Checks every request of the instrument against permissions.ts. */
export class ControlsDesk {
  private state: ControlsState = FREE;
  /** How many open browsers show a key: two tabs may share one. */
  private readonly present = new Map<string, number>();
  private readonly parts: DeskParts;

  constructor(parts: DeskParts) {
    this.parts = parts;
  }

  /** Takes a browser in. `where` names it: its address, for those who gave no name. */
  sit(where: string): Seat {
    const seat = { key: this.parts.secrets.bytes(KEY_BYTES).toString('base64url'), where };
    this.count(seat.key, 1);
    return seat;
  }

  /** The browser is gone. */
  leave({ key }: Seat): void {
    this.count(key, -1);
    if (!this.present.has(key)) this.apply({ type: 'left', browser: key });
  }

  /** Takes the controls or asks for them. `key` is one that this browser was given before. Throws `controlsAsked` when somebody else asked first. */
  take(seat: Seat, { name, key }: { readonly name?: string | undefined; readonly key?: string | undefined }): void {
    const isBack = key !== undefined && holds(this.state, key);
    if (isBack) this.adopt(seat, key);
    // To come back is not to take: what ran out meanwhile is free or another's.
    else if (key !== undefined) return;
    if (isBack && name === undefined) this.apply({ type: 'came', browser: seat.key });
    else this.apply({ type: 'take', by: { browser: seat.key, name: name ?? seat.where } });
    const { asker } = this.state;
    if (asker && !holds(this.state, seat.key) && asker.browser !== seat.key) throw new NightjarError('controlsAsked', { by: asker.name });
  }

  giveUp(seat: Seat): void {
    this.apply({ type: 'giveUp', browser: seat.key });
  }

  /** Says no to whoever asked. */
  keep(seat: Seat): void {
    this.apply({ type: 'keep', browser: seat.key });
  }

  /** Lets what needs the controls pass for whoever has them, and counts it as their use. Throws `needsControls`. */
  permit(seat: Seat, type: ClientMessage['type']): void {
    const need = NEEDS[type];
    if (need === 'nothing') return;
    this.tick();
    const { holder } = this.state;
    if (need === 'unlessHeld' && !holder) return;
    if (!holds(this.state, seat.key)) throw new NightjarError('needsControls', holder ? { by: holder.name } : {});
    this.apply({ type: 'use', browser: seat.key });
  }

  /** What runs out by itself. To be called every second or so. */
  tick(): void {
    this.apply({ type: 'time' });
  }

  /** The controls as one browser is shown them. */
  viewFor(seat: Seat): ControlsView {
    const { holder, asker } = this.state;
    const yours = holds(this.state, seat.key);
    return {
      nowMs: this.parts.now(),
      yours,
      ...(yours ? { key: seat.key } : {}),
      ...(holder ? { holder: { name: holder.name, sinceMs: holder.sinceMs, untilMs: endsMs({ holder }) ?? holder.sinceMs, isGone: holder.goneMs !== undefined } } : {}),
      ...(asker ? { asker: { name: asker.name, yours: asker.browser === seat.key, untilMs: endsMs(this.state) ?? asker.atMs } } : {}),
    };
  }

  private apply(event: ControlsEvent): void {
    const before = this.state;
    this.state = step(before, event, this.parts.now());
    if (this.state === before) return;
    if (this.state.holder?.browser !== before.holder?.browser) this.parts.log.info({ by: this.state.holder?.name ?? 'nobody' }, 'the controls have passed on');
    this.parts.changed();
  }

  private adopt(seat: Seat, key: string): void {
    if (seat.key === key) return;
    this.count(seat.key, -1);
    seat.key = key;
    this.count(key, 1);
  }

  private count(key: string, by: 1 | -1): void {
    const count = (this.present.get(key) ?? 0) + by;
    if (count > 0) this.present.set(key, count);
    else this.present.delete(key);
  }
}
