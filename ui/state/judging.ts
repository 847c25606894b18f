import type { LabelSource } from '../../planner/layers/types.ts';

/** What a person reads a layer number from. */
export type Means = 'eye' | 'raman' | 'afm';
export const MEANS: readonly Means[] = ['eye', 'raman', 'afm'];

/** Layer numbers that can be given: as far as they are counted. */
export const GIVEN_LAYERS = Array.from({ length: 10 }, (_, i) => i + 1);

/** Where a number comes from: an eye that was shown the prediction says less than one that was not. */
export function sourceOf(means: Means, wasShown: boolean): LabelSource {
  if (means !== 'eye') return means;
  return wasShown ? 'shownEye' : 'blindEye';
}

export type JudgeAction =
  | { readonly do: 'give'; readonly layers: number }
  | { readonly do: 'means'; readonly means: Means }
  | { readonly do: 'terrace'; readonly step: 1 | -1 }
  | { readonly do: 'number'; readonly step: 1 | -1 }
  | { readonly do: 'takeBack' };

const NAMED: Readonly<Record<string, JudgeAction>> = {
  0: { do: 'give', layers: 10 },
  e: { do: 'means', means: 'eye' },
  r: { do: 'means', means: 'raman' },
  a: { do: 'means', means: 'afm' },
  Backspace: { do: 'takeBack' },
  ArrowUp: { do: 'terrace', step: -1 },
  ArrowDown: { do: 'terrace', step: 1 },
  ArrowLeft: { do: 'number', step: -1 },
  ArrowRight: { do: 'number', step: 1 },
};

/** What a key means while the numbers have the focus; `undefined` leaves it to the page. */
export function judgeAction(key: string): JudgeAction | undefined {
  if (/^[1-9]$/.test(key)) return { do: 'give', layers: Number(key) };
  return NAMED[key.length === 1 ? key.toLowerCase() : key];
}

/** Flakes kept as shown; beyond it the oldest are forgotten. */
const MOST_SHOWN = 5000;

/** Remembers of which flakes this page has shown the prediction. */
export class ShownFlakes {
  private readonly ids: Set<string>;
  private readonly keep: (ids: readonly string[]) => void;

  /** `keep` is told of every new one. */
  constructor(ids: readonly string[], keep: (ids: readonly string[]) => void) {
    this.ids = new Set(ids);
    this.keep = keep;
  }

  has(id: string): boolean {
    return this.ids.has(id);
  }

  add(id: string): void {
    if (this.ids.has(id)) return;
    this.ids.add(id);
    for (const oldest of this.ids) {
      if (this.ids.size <= MOST_SHOWN) break;
      this.ids.delete(oldest);
    }
    this.keep([...this.ids]);
  }
}
