import { median } from '../../planner/units/median.ts';
import type { TileRecord } from '../records/types.ts';

/** So many tiles say how bright bare oxide is: one tile may lie on something odd. */
const TILES = 5;
/** Told from here on: the picture still does. */
const TOLD_BELOW = 0.8;
/** Below this the noise of thin flakes' contrast has grown by half, and the lamp will not last the night. */
const PARKED_BELOW = 0.5;

/** What the watch says after a tile, once each. */
export type LampWord = { readonly kind: 'told' | 'faded'; readonly share: number };

interface Light {
  readonly first: number[];
  readonly last: number[];
}

/** Watches the level of bare oxide, which is the lamp's light as long as chips are alike. Each kind of oxide is held against its own beginning. */
export class LampWatch {
  private readonly lights = new Map<string, Light>();
  private isTold = false;
  private hasFaded = false;

  /** A person had the controls: lamp and levels may be others now. */
  beginAnew(): void {
    this.lights.clear();
    this.isTold = false;
  }

  /** @param oxide what tells kinds of bare oxide apart */
  after({ outcome, fault, substrate }: TileRecord, oxide: string): LampWord | undefined {
    if (outcome !== 'done' || fault !== undefined || substrate.length === 0) return undefined;
    const level = Math.max(...substrate);
    const light = this.lights.get(oxide) ?? { first: [], last: [] };
    this.lights.set(oxide, light);
    if (light.first.length < TILES) light.first.push(level);
    light.last.push(level);
    if (light.last.length > TILES) light.last.shift();
    return light.first.length < TILES ? undefined : this.word(median(light.last) / median(light.first));
  }

  private word(share: number): LampWord | undefined {
    if (share < PARKED_BELOW && !this.hasFaded) {
      this.hasFaded = true;
      return { kind: 'faded', share };
    }
    if (share >= TOLD_BELOW || this.isTold) return undefined;
    this.isTold = true;
    return { kind: 'told', share };
  }
}
