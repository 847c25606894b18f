import type { Book } from '../../planner/flakes/book.ts';
import { flakesOf } from '../../planner/flakes/book.ts';
import { barThatFits } from '../../planner/flakes/shape/barOnChip.ts';
import { figure, NightjarError } from '../errors/index.ts';
import { layersText, tableText } from './words.ts';

/** A bar that is to fit on the part that counts, um, the longer side first. */
export interface WantedBar {
  readonly lengthUm: number;
  readonly widthUm: number;
}

/** Where the wanted bar lies on one flake. */
export interface BarFound {
  readonly flake: string;
  /** What may be said of the terrace that it lies on. */
  readonly layers: string;
  /** Direction of its longer side on the stage, from +x towards +y, 0 to below 180 degrees. */
  readonly angleDeg: number;
  readonly centreUm: readonly [number, number];
}

/** What is written of a wanted bar beside the flakes. */
export interface BarReport {
  readonly wantedBar: WantedBar & { readonly flagged: number; readonly fits: readonly BarFound[] };
}

const LONGEST_UM = 10_000;

/** "20x5". Throws `badUsage`. */
export function barFrom(text: string): WantedBar {
  const match = /^(\d+(?:\.\d+)?)x(\d+(?:\.\d+)?)$/i.exec(text);
  const [a, b] = [Number(match?.[1]), Number(match?.[2])];
  if (!match || !(a > 0 && b > 0 && a <= LONGEST_UM && b <= LONGEST_UM)) {
    throw new NightjarError('badUsage', { reason: `--bar ${text}: length and width in um are wanted, like 20x5` });
  }
  return { lengthUm: Math.max(a, b), widthUm: Math.min(a, b) };
}

/** Looks for the bar on every flagged flake, the best first. */
export function barReport(book: Book, bar: WantedBar): BarReport {
  const flakes = flakesOf(book);
  const flagged = flakes.filter((flake) => flake.verdict === 'flagged');
  const dirty = flakes.filter((flake) => flake.reject !== undefined);
  const fits = flagged.flatMap((flake): readonly BarFound[] => {
    const found = barThatFits(flake, dirty, bar.lengthUm, bar.widthUm);
    const call = found && flake.terraces[found.terrace]?.call;
    if (!found || !call) return [];
    const { angleDeg, centreUm } = found.bar;
    return [{ flake: flake.id, layers: layersText(call), angleDeg: rounded(angleDeg), centreUm: [rounded(centreUm.xUm), rounded(centreUm.yUm)] }];
  });
  return { wantedBar: { ...bar, flagged: flagged.length, fits } };
}

function rounded(value: number): number {
  return Math.round(10 * value) / 10;
}

/** "A bar of 20 × 5 µm fits on 3 of 12 flagged flakes." and where, as a table. */
export function barText({ wantedBar: { lengthUm, widthUm, flagged, fits } }: BarReport): string {
  const head = `A bar of ${figure(lengthUm)} × ${figure(widthUm)} µm fits on ${fits.length} of ${flagged} flagged ${flagged === 1 ? 'flake' : 'flakes'}.`;
  if (fits.length === 0) return head;
  const rows = fits.map(({ flake, layers, angleDeg, centreUm: [x, y] }) => [flake, layers, figure(angleDeg), figure(x), figure(y)]);
  return `${head}\n${tableText(['flake', 'on', 'angle °', 'x µm', 'y µm'], rows, new Set([2, 3, 4]))}`;
}
