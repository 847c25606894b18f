import type { FlakeView } from '../server/messages.ts';
import type { Terrace } from '../../planner/flakes/types.ts';
import { layersText, probabilityText, tableText } from './words.ts';

const shown = 20;

/** The best flakes as a table for a terminal: layers or nm, usable size, chip and where it lies on the chip. */
export function flakeTable(flagged: readonly FlakeView[]): string {
  if (flagged.length === 0) return 'Nothing was flagged.';
  const rows = flagged.slice(0, shown).map((view, n) => {
    const { flake } = view;
    const counts = flake.terraces.find((terrace) => terrace.call.layers === flake.layers && terrace.inscribedUm === flake.usableUm);
    return [
      String(n + 1),
      counts ? layersText(counts.call) : 'thick',
      counts ? sureness(counts) : '',
      flake.usableUm.toFixed(1),
      Math.round(flake.areaUm2).toString(),
      flake.chip,
      view.chipXUm.toFixed(0),
      view.chipYUm.toFixed(0),
      flake.id,
    ];
  });
  const table = tableText(['', 'layers', 'probability', 'usable µm', 'area µm²', 'chip', 'x µm', 'y µm', 'flake'], rows, new Set([0, 2, 3, 4, 6, 7]));
  const rest = flagged.length > shown ? `\nand ${flagged.length - shown} more.` : '';
  return `${table}${rest}\n\nUsable: largest circle on that terrace. x and y: from the chip's own corner, along its first edge.`;
}

/** Probability of the number that is counted, or of the leading reading where thickness is measured. */
function sureness({ call }: Terrace): string {
  return probabilityText(call.thickness?.weight ?? call.probability);
}
