import type { BarOnFlake } from '../../planner/flakes/shape/barOnFlake.ts';

/** A bar that is to fit, the longer side first. */
export interface BarSize {
  readonly lengthUm: number;
  readonly widthUm: number;
}

const LONGEST_UM = 10_000;

/** Two numbers as they were typed; `undefined` unless both are lengths. */
export function barSize(length: string, width: string): BarSize | undefined {
  const [a, b] = [length, width].map((text) => Number(text.trim().replace(',', '.')));
  const isLength = (um: number | undefined): um is number => um !== undefined && um > 0 && um <= LONGEST_UM;
  return length.trim() !== '' && width.trim() !== '' && isLength(a) && isLength(b) ? { lengthUm: Math.max(a, b), widthUm: Math.min(a, b) } : undefined;
}

/** What is known of the wanted bar on one flake; `undefined` while it has not been looked for. */
export type BarAnswer = BarOnFlake | 'none' | undefined;
