import type { Axes } from './planner.ts';

export interface StatusFacts {
  readonly state: string;
  readonly machineMm: Axes;
  readonly workOffsetMm: Axes;
  /** Value of $10. */
  readonly mask: number;
  readonly feedMmPerMin: number;
  readonly freeBlocks: number;
  readonly freeBytes: number;
  /** Letters of the pins that are active: X, Y, Z. */
  readonly pins: string;
}

const threeDecimals = (axes: Axes) => axes.map((mm) => mm.toFixed(3)).join(',');

/** Reports until a field that comes now and then comes again, at rest and in motion. */
const SELDOM_AT_REST = 30;
const SELDOM_IN_MOTION = 10;

/**
 * Answers to `?` as the firmware's documentation (version 1.1, "real-time status reports") has them:
 * `<Idle|MPos:0.000,0.000,0.000|FS:0.0,0>`, WCO in the first one and now and then, Ov in the one after it, Pn while a pin is active. From memory.
 */
export class StatusReporter {
  #untilOffset = 0;
  #owesOverrides = false;

  line(facts: StatusFacts): string {
    const { state, machineMm, workOffsetMm, mask, pins } = facts;
    const isMachine = (mask & 1) !== 0;
    const work: Axes = [machineMm[0] - workOffsetMm[0], machineMm[1] - workOffsetMm[1], machineMm[2] - workOffsetMm[2]];
    const fields = [state, isMachine ? `MPos:${threeDecimals(machineMm)}` : `WPos:${threeDecimals(work)}`];
    if ((mask & 2) !== 0) fields.push(`Bf:${facts.freeBlocks},${facts.freeBytes}`);
    fields.push(`FS:${facts.feedMmPerMin.toFixed(0)},0`);
    if (pins !== '') fields.push(`Pn:${pins}`);
    fields.push(...this.#seldom(state, workOffsetMm));
    return `<${fields.join('|')}>`;
  }

  restart(): void {
    this.#untilOffset = 0;
    this.#owesOverrides = false;
  }

  #seldom(state: string, workOffsetMm: Axes): readonly string[] {
    if (this.#untilOffset === 0) {
      this.#untilOffset = state === 'Idle' ? SELDOM_AT_REST : SELDOM_IN_MOTION;
      this.#owesOverrides = true;
      return [`WCO:${threeDecimals(workOffsetMm)}`];
    }
    this.#untilOffset--;
    if (!this.#owesOverrides) return [];
    this.#owesOverrides = false;
    return ['Ov:100,100,100'];
  }
}
