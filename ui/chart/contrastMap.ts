import { regionAbove } from '../../planner/optics/index.ts';
import type { ContrastChart, Ring } from '../../planner/optics/index.ts';

/** Where a chart is drawn, css px. */
export interface Plot {
  readonly left: number;
  readonly top: number;
  readonly width: number;
  readonly height: number;
}

/** Steps of |contrast| as one SVG path each, lowest first, and the regions where the flake is brighter than its substrate. */
export interface ContrastSteps {
  readonly steps: readonly string[];
  readonly brighter: string;
}

const px = (value: number): string => String(Math.round(value * 10) / 10);

function pathOf(rings: readonly Ring[], chart: ContrastChart, plot: Plot): string {
  const cellWidth = plot.width / (chart.oxidesNm.length - 1);
  const cellHeight = plot.height / (chart.wavelengthsNm.length - 1);
  return rings
    .map((ring) => {
      const points: string[] = [];
      for (let i = 0; i + 1 < ring.length; i += 2) points.push(`${px(plot.left + (ring[i] ?? 0) * cellWidth)} ${px(plot.top + plot.height - (ring[i + 1] ?? 0) * cellHeight)}`);
      return `M${points.join('L')}Z`;
    })
    .join('');
}

/** Draws a chart's contrast as nested regions, oxide to the right and wavelength upwards. */
export function contrastSteps(chart: ContrastChart, levels: readonly number[], plot: Plot): ContrastSteps {
  const grid = { columns: chart.oxidesNm.length, rows: chart.wavelengthsNm.length };
  const darker = { ...grid, values: chart.contrast };
  const brighter = { ...grid, values: chart.contrast.map((value) => -value) };
  return {
    steps: levels.map((level) => pathOf([...regionAbove(darker, level), ...regionAbove(brighter, level)], chart, plot)),
    brighter: pathOf(regionAbove(brighter, 0), chart, plot),
  };
}

/** Place of a value between two ends of an axis, px. */
export function along(value: number, [from, to]: readonly [number, number], startPx: number, lengthPx: number): number {
  return startPx + (lengthPx * (Math.min(Math.max(value, from), to) - from)) / (to - from);
}
