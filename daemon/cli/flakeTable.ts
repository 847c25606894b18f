import type { FlakeView } from '../server/messages.ts';
import { tableText } from './words.ts';

const shown = 20;

/** The best flakes as a table for a terminal: layers, usable size, chip and where it lies on the chip. */
export function flakeTable(flagged: readonly FlakeView[]): string {
  if (flagged.length === 0) return 'Nothing was flagged.';
  const rows = flagged.slice(0, shown).map((view, n) => {
    const { flake } = view;
    const probability = flake.terraces.find((terrace) => terrace.call.layers === flake.layers)?.call.probability;
    return [
      String(n + 1),
      flake.layers === null ? 'thick' : String(flake.layers),
      probability === undefined ? '' : probability.toFixed(2),
      flake.usableUm.toFixed(1),
      Math.round(flake.areaUm2).toString(),
      flake.chip,
      view.chipXUm.toFixed(0),
      view.chipYUm.toFixed(0),
      flake.id,
    ];
  });
  const table = tableText(['', 'layers', 'probability', 'usable µm', 'area µm²', 'chip', 'x µm', 'y µm', 'flake'], rows, new Set([0, 1, 2, 3, 4, 6, 7]));
  const rest = flagged.length > shown ? `\nand ${flagged.length - shown} more.` : '';
  return `${table}${rest}\n\nUsable: largest circle on that terrace. x and y: from the chip's own corner, along its first edge.`;
}
