import type { PlannedChip, ScanPlan } from '../../planner/plan/types.ts';
import { pixelToStage, type FramePose, type StagePoint } from '../../planner/units/index.ts';
import { escapeMarkup } from '../markup.ts';

const widthPx = 1200;
const marginUm = 600;
/** Scale bars are 1, 2 or 5 times a power of ten, about an eighth of the width. */
const barShare = 1 / 8;

/** How a frame lies on the stage, whatever its place. */
export type FrameShape = Omit<FramePose, 'centreUm'>;

/** The plan as a picture: chips, tiles, route, focus points and a scale bar. y points up, as on the stage. */
export function planSvg(plan: ScanPlan, frame: FrameShape, title: string): string {
  const corners = plan.chips.flatMap((chip) => [...chip.outlineUm, ...chip.tiles.map((tile) => tile.centreUm)]);
  const x0 = Math.min(...corners.map((p) => p.xUm)) - marginUm;
  const x1 = Math.max(...corners.map((p) => p.xUm)) + marginUm;
  const y0 = Math.min(...corners.map((p) => p.yUm)) - marginUm;
  const y1 = Math.max(...corners.map((p) => p.yUm)) + marginUm;
  const scale = widthPx / (x1 - x0);
  const at = (p: StagePoint): string => `${((p.xUm - x0) * scale).toFixed(1)},${((y1 - p.yUm) * scale).toFixed(1)}`;
  const heightPx = Math.ceil((y1 - y0) * scale) + 60;
  const chips = plan.chips.map((chip) => chipSvg(chip, frame, at)).join('\n');
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${widthPx} ${heightPx}" width="${widthPx}" height="${heightPx}" font-family="sans-serif" font-size="15">
<title>${escapeMarkup(title)}</title>
<rect width="100%" height="100%" fill="#14110e"/>
${chips}
${scaleBar(x1 - x0, scale, heightPx)}
</svg>
`;
}

function chipSvg(chip: PlannedChip, frame: FrameShape, at: (p: StagePoint) => string): string {
  const ring = (points: readonly StagePoint[]): string => points.map(at).join(' ');
  const tiles = chip.tiles.map((tile) => `<polygon points="${ring(frameCorners({ ...frame, centreUm: tile.centreUm }))}"/>`).join('');
  const scanned = [chip.scannedUm, ...(chip.otherPiecesUm ?? [])].map((piece) => `<polygon points="${ring(piece)}"/>`).join('');
  const skipped = (chip.skipUm ?? []).map((area) => `<polygon points="${ring(area)}"/>`).join('');
  const focus = chip.focusPointsUm.map((p) => `<circle cx="${at(p).replace(',', '" cy="')}" r="4"/>`).join('');
  const [labelX = '0', labelY = '0'] = at(highest(chip.outlineUm)).split(',');
  return `<g><polygon points="${ring(chip.outlineUm)}" fill="#1b1814" stroke="#bdb2a2"/>
<g fill="none" stroke="#7f7465" stroke-dasharray="6 4">${scanned}</g>
${skipped === '' ? '' : `<g fill="#4a3b2c" stroke="#7f7465">${skipped}</g>\n`}<g fill="none" stroke="#988d7e" stroke-opacity="0.6">${tiles}</g>
<polyline points="${ring(chip.tiles.map((tile) => tile.centreUm))}" fill="none" stroke="#93c7ab" stroke-width="1.5"/>
<g fill="#ece4d6">${focus}</g>
<text x="${labelX}" y="${Number(labelY) - 8}" text-anchor="middle" fill="#ece4d6">${escapeMarkup(chip.name)}: ${chip.tiles.length} tiles</text></g>`;
}

/** The four corners of a frame on the stage, in order round it. */
function frameCorners(pose: FramePose): readonly StagePoint[] {
  const { widthPx, heightPx } = pose;
  return [[0, 0], [widthPx, 0], [widthPx, heightPx], [0, heightPx]].map(([colPx = 0, rowPx = 0]) => pixelToStage(pose, { colPx, rowPx }));
}

function highest(points: readonly StagePoint[]): StagePoint {
  return points.reduce((best, p) => (p.yUm > best.yUm ? p : best));
}

function scaleBar(spanUm: number, scale: number, heightPx: number): string {
  const wanted = spanUm * barShare;
  const decade = 10 ** Math.floor(Math.log10(wanted));
  const um = [5, 2, 1].map((n) => n * decade).find((n) => n <= wanted) ?? decade;
  const label = um >= 1000 ? `${um / 1000} mm` : `${um} µm`;
  const x = widthPx - 24 - um * scale;
  return `<g fill="#f3ecdf"><rect x="${x.toFixed(1)}" y="${heightPx - 22}" width="${(um * scale).toFixed(1)}" height="3"/><text x="${x.toFixed(1)}" y="${heightPx - 30}">${label}</text></g>`;
}
