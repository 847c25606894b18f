import type { LayerCall, ThicknessCall } from '../../planner/flakes/types.ts';
import { layerRange } from '../../planner/layers/range.ts';

/** "2 h 05 min", "3 min 20 s", "40 s": a duration as a person says it. */
export function durationText(seconds: number): string {
  const s = Math.max(0, Math.round(seconds));
  if (s < 60) return `${s} s`;
  if (s < 3600) return `${Math.floor(s / 60)} min ${String(s % 60).padStart(2, '0')} s`;
  return `${Math.floor(s / 3600)} h ${String(Math.floor((s % 3600) / 60)).padStart(2, '0')} min`;
}

/** "1.2 GB", "340 MB", "12 kB", in powers of ten. */
export function bytesText(bytes: number): string {
  if (bytes >= 1e9) return `${(bytes / 1e9).toFixed(1)} GB`;
  if (bytes >= 1e6) return `${Math.round(bytes / 1e6)} MB`;
  return `${Math.round(bytes / 1e3)} kB`;
}

/** Columns set flush: words to the left, figures to the right. Each row has as many cells as the head. */
export function tableText(head: readonly string[], rows: readonly (readonly string[])[], figureColumns: ReadonlySet<number>): string {
  const widths = head.map((title, c) => Math.max(title.length, ...rows.map((row) => (row[c] ?? '').length)));
  const line = (cells: readonly string[]): string =>
    cells
      .map((cell, c) => (figureColumns.has(c) ? cell.padStart(widths[c] ?? 0) : cell.padEnd(widths[c] ?? 0)))
      .join('  ')
      .trimEnd();
  return [line(head), line(widths.map((w) => '─'.repeat(w))), ...rows.map(line)].join('\n');
}

/** "1 layer", "1 or 2 layers", "7 to 9 layers", "more than 10 layers": what may honestly be said of a terrace, in nm where that is measured. */
export function layersText(call: LayerCall): string {
  if (call.thickness) return thicknessText(call.thickness);
  const range = layerRange(call);
  if (!range) return 'off the layer curve';
  const { from, to, numbers } = range;
  if (to === null) return numbers.length === 0 ? `more than ${from - 1} layers` : `${from} layers or more`;
  const text = numbersText(from, to, numbers);
  return `${text} ${text === '1' ? 'layer' : 'layers'}`;
}

function numbersText(from: number, to: number, numbers: readonly number[]): string {
  const whole = to - from + 1 === numbers.length || to > (numbers.at(-1) ?? 0);
  if (from === to) return String(from);
  if (to === from + 1) return `${from} or ${to}`;
  return whole ? `${from} to ${to}` : `${numbers.slice(0, -1).join(', ')} or ${numbers.at(-1) ?? to}`;
}

/** "12.3 nm (11.4 to 13.1), or 140 nm (12 %)", "more than 99 nm": the leading reading with its interval, then the others. */
export function thicknessText({ nm, lowNm, highNm, alternatives }: ThicknessCall): string {
  const leading = highNm === null ? `more than ${nmText(lowNm)} nm` : `${nmText(nm)} nm (${nmText(lowNm)} to ${nmText(highNm)})`;
  return [leading, ...alternatives.map((other) => `or ${nmText(other.nm)} nm (${Math.round(100 * other.weight)} %)`)].join(', ');
}

function nmText(nm: number): string {
  return nm < 30 ? nm.toFixed(1) : nm.toFixed(0);
}

/** "0.87"; never 1.00, which nothing is. */
export function probabilityText(probability: number): string {
  return probability >= 0.995 ? '> 0.99' : probability.toFixed(2);
}
