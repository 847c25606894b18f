import type { FlakeView } from '../server/messages.ts';
import type { Flake, Terrace } from '../../planner/flakes/types.ts';
import { layersText, probabilityText, tableText } from './words.ts';

const shown = 20;

/** A flake and the place that is told of it, um. */
interface Placed {
  readonly flake: Flake;
  readonly xUm: number;
  readonly yUm: number;
}

/** The best flakes of a night as a table for a terminal: layers or nm, usable size, chip and where it lies on the chip. */
export function flakeTable(flagged: readonly FlakeView[]): string {
  const placed = flagged.map(({ flake, chipXUm, chipYUm }) => ({ flake, xUm: chipXUm, yUm: chipYUm }));
  return tableOf(placed, "x and y: from the chip's own corner, along its first edge.");
}

/** The best flakes of a stored frame set, where they lie on the stage. */
export function setTable(flagged: readonly Flake[]): string {
  const placed = flagged.map((flake) => ({ flake, xUm: flake.centreUm.xUm, yUm: flake.centreUm.yUm }));
  return tableOf(placed, 'x and y: on the stage.');
}

function tableOf(flagged: readonly Placed[], places: string): string {
  if (flagged.length === 0) return 'Nothing was flagged.';
  const rows = flagged.slice(0, shown).map(({ flake, xUm, yUm }, n) => {
    const counts = flake.terraces.find((terrace) => terrace.call.layers === flake.layers && terrace.inscribedUm === flake.usableUm);
    return [
      String(n + 1),
      counts ? layersText(counts.call) : 'thick',
      counts ? sureness(counts) : '',
      flake.usableUm.toFixed(1),
      Math.round(flake.areaUm2).toString(),
      flake.chip,
      xUm.toFixed(0),
      yUm.toFixed(0),
      flake.id,
    ];
  });
  const table = tableText(['', 'layers', 'probability', 'usable µm', 'area µm²', 'chip', 'x µm', 'y µm', 'flake'], rows, new Set([0, 2, 3, 4, 6, 7]));
  const rest = flagged.length > shown ? `\nand ${flagged.length - shown} more.` : '';
  return `${table}${rest}\n\nUsable: largest circle on that terrace. ${places}`;
}

/** Probability of the number that is counted, or of the leading reading where thickness is measured. */
function sureness({ call }: Terrace): string {
  return probabilityText(call.thickness?.weight ?? call.probability);
}
