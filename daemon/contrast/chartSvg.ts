import type { Channel, ContrastChart, ContrastReport, Ring } from '../../planner/optics/index.ts';
import { chartOf, levelsFor, regionAbove } from '../../planner/optics/index.ts';
import { figure } from '../errors/index.ts';
import { chartInk, stepInk } from './inkScale.ts';
import { filterWords, percent } from './words.ts';
import { escapeMarkup } from '../markup.ts';

const plot = { left: 84, top: 92, width: 700, height: 560 } as const;
const picture = { width: 980, height: 730 } as const;

/** Places on the picture for oxide and wavelength. */
interface Axes {
  readonly x: (oxideNm: number) => number;
  readonly y: (wavelengthNm: number) => number;
  readonly oxideMaxNm: number;
  readonly wavelengthNm: readonly [number, number];
}

const px = (value: number): string => String(Math.round(value * 10) / 10);

function axesOf(chart: ContrastChart, { request }: ContrastReport): Axes {
  const oxideMaxNm = chart.oxidesNm.at(-1) ?? request.oxideNm;
  const wavelengthNm = [chart.wavelengthsNm[0] ?? 400, chart.wavelengthsNm.at(-1) ?? 750] as const;
  return {
    oxideMaxNm,
    wavelengthNm,
    x: (oxideNm) => plot.left + (plot.width * oxideNm) / oxideMaxNm,
    y: (nm) => plot.top + plot.height * (1 - (nm - wavelengthNm[0]) / (wavelengthNm[1] - wavelengthNm[0])),
  };
}

/** One path for all rings of a region, from grid cells to the picture. */
function pathOf(rings: readonly Ring[], chart: ContrastChart): string {
  const cellWidth = plot.width / (chart.oxidesNm.length - 1);
  const cellHeight = plot.height / (chart.wavelengthsNm.length - 1);
  const point = (x: number, y: number): string => `${px(plot.left + x * cellWidth)} ${px(plot.top + plot.height - y * cellHeight)}`;
  return rings
    .map((ring) => {
      const points = Array.from({ length: ring.length / 2 }, (_, i) => point(ring[2 * i] ?? 0, ring[2 * i + 1] ?? 0));
      return `M${points.join('L')}Z`;
    })
    .join('');
}

/** Filled steps of |contrast|, lowest first, and hatching where the flake is brighter. */
function fieldSvg(chart: ContrastChart, levels: readonly number[]): string {
  const grid = { columns: chart.oxidesNm.length, rows: chart.wavelengthsNm.length };
  const brighter = { ...grid, values: chart.contrast.map((value) => -value) };
  const darker = { ...grid, values: chart.contrast };
  const steps = levels.map((level, i) => {
    const rings = [...regionAbove(darker, level), ...regionAbove(brighter, level)];
    return `<path fill="${stepInk(i, levels.length)}" d="${pathOf(rings, chart)}"/>`;
  });
  return `${steps.join('\n')}\n<path fill="url(#brighter)" d="${pathOf(regionAbove(brighter, 0), chart)}"/>`;
}

const hatching = `<defs><pattern id="brighter" width="11" height="11" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
<rect width="11" height="1.4" fill="${chartInk.casing}"/><rect y="1.4" width="11" height="1.1" fill="${chartInk.ink3}"/></pattern></defs>`;

function ticks(from: number, to: number, step: number): number[] {
  const first = Math.ceil(from / step) * step;
  return Array.from({ length: Math.floor((to - first) / step) + 1 }, (_, i) => first + i * step);
}

function axesSvg(axes: Axes): string {
  const bottom = plot.top + plot.height;
  const [fromNm, toNm] = axes.wavelengthNm;
  const oxides = ticks(0, axes.oxideMaxNm, axes.oxideMaxNm > 500 ? 100 : 50).map(
    (nm) => `<path d="M${px(axes.x(nm))} ${bottom}v6" stroke="${chartInk.line}"/><text x="${px(axes.x(nm))}" y="${bottom + 22}" text-anchor="middle">${figure(nm)}</text>`,
  );
  const wavelengths = ticks(fromNm, toNm, 50).map(
    (nm) => `<path d="M${plot.left} ${px(axes.y(nm))}h-6" stroke="${chartInk.line}"/><text x="${plot.left - 11}" y="${px(axes.y(nm) + 5)}" text-anchor="end">${figure(nm)}</text>`,
  );
  const middle = plot.top + plot.height / 2;
  return `<g fill="${chartInk.ink2}">${[...oxides, ...wavelengths].join('')}
<text x="${plot.left + plot.width / 2}" y="${bottom + 48}" text-anchor="middle">oxide thickness, nm</text>
<text transform="translate(26 ${middle}) rotate(-90)" text-anchor="middle">wavelength, nm</text></g>
<rect x="${plot.left}" y="${plot.top}" width="${plot.width}" height="${plot.height}" fill="none" stroke="${chartInk.line}"/>`;
}

/** About how wide a letter is, for the plate behind a text: no font is measured here. */
const letterPx = 7;

/** Text that stays readable on any ink: on a plate of shade. */
function platedText(x: number, y: number, anchor: 'start' | 'end', text: string): string {
  const width = text.length * letterPx + 10;
  const left = anchor === 'start' ? x - 5 : x + 5 - width;
  return `<rect x="${px(left)}" y="${px(y - 16)}" width="${px(width)}" height="22" fill="${chartInk.casing}" fill-opacity="0.78"/><text x="${px(x)}" y="${px(y)}" text-anchor="${anchor}" fill="${chartInk.onPicture}">${escapeMarkup(text)}</text>`;
}

/** Tonight's oxide as a cased line, with each channel on it and what one layer shows there. */
function oxideLineSvg(axes: Axes, report: ContrastReport, channels: readonly Channel[], contrastOf: readonly number[]): string {
  const { oxideNm } = report.request;
  const x = axes.x(oxideNm);
  const line = `M${px(x)} ${plot.top}v${plot.height}`;
  const anchor = x > plot.left + 0.6 * plot.width ? 'end' : 'start';
  const shift = anchor === 'end' ? -15 : 15;
  const marks = channels.map(({ name, meanNm }, i) => {
    const y = axes.y(Math.min(Math.max(meanNm, axes.wavelengthNm[0]), axes.wavelengthNm[1]));
    const label = platedText(x + shift, y + 5, anchor, `${name} ${Math.round(meanNm)} nm, ${percent(contrastOf[i] ?? 0)}`);
    return `<circle cx="${px(x)}" cy="${px(y)}" r="5.5" fill="${chartInk.onPicture}" stroke="${chartInk.casing}" stroke-width="2.5"/>${label}`;
  });
  const head = oxideNm === 0 ? 'bare silicon' : `${figure(oxideNm)} nm`;
  return `<path d="${line}" stroke="${chartInk.casing}" stroke-width="6"/><path d="${line}" stroke="${chartInk.onPicture}" stroke-width="2"/>
<text x="${px(x)}" y="${plot.top - 9}" text-anchor="${x < plot.left + 30 ? 'start' : 'middle'}" fill="${chartInk.ink}" font-weight="600">${head}</text>
${marks.join('\n')}`;
}

/** The scale at the right: steps with their lower ends, and what hatching means. */
function legendSvg(levels: readonly number[]): string {
  const left = plot.left + plot.width + 34;
  const height = Math.min(40, 320 / (levels.length + 1));
  const bottom = plot.top + 40 + (levels.length + 1) * height;
  const swatches = Array.from({ length: levels.length + 1 }, (_, i) => {
    const y = bottom - (i + 1) * height;
    const label = i === 0 ? '0 %' : percent(levels[i - 1] ?? 0).replace('.0 %', ' %');
    return `<rect x="${left}" y="${px(y)}" width="26" height="${px(height)}" fill="${stepInk(i - 1, levels.length)}" stroke="${chartInk.line}" stroke-width="0.75"/><text x="${left + 36}" y="${px(y + height + 5)}">${label}</text>`;
  });
  const note = bottom + 44;
  return `<g fill="${chartInk.ink2}"><text x="${left}" y="${plot.top + 6}">contrast,</text><text x="${left}" y="${plot.top + 25}">either sign</text>${swatches.join('')}
<rect x="${left}" y="${px(note)}" width="26" height="26" fill="${stepInk(0, levels.length)}"/><rect x="${left}" y="${px(note)}" width="26" height="26" fill="url(#brighter)" stroke="${chartInk.line}" stroke-width="0.75"/>
<text x="${left + 36}" y="${px(note + 12)}">hatched: the</text><text x="${left + 36}" y="${px(note + 30)}">flake is brighter</text></g>`;
}

/**
 * The contrast chart of a report as SVG, 980 x 730: |contrast| of its first flake rung in ink over oxide and wavelength, each wavelength by
 * itself; this oxide as a cased line, the camera's channels on it with the contrast that they see.
 */
export function contrastChartSvg(report: ContrastReport): string {
  const { request } = report;
  const { numericalAperture } = request;
  const chart = chartOf(report);
  const { layers } = chart;
  const levels = levelsFor(chart);
  const axes = axesOf(chart, report);
  const title = `${layers === 1 ? 'One layer' : `${layers} layers`} of ${request.materialName} on oxidised silicon, contrast at NA ${figure(numericalAperture, 3)}`;
  const light = `${request.lampName}${request.filter ? ` through ${filterWords(request.filter)}` : ', no filter'}, camera ${request.camera.name}`;
  const shown = report.ladder.find((rung) => rung.layers === layers)?.contrast ?? [];
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${picture.width} ${picture.height}" width="${picture.width}" height="${picture.height}" font-family="'Source Sans 3', 'Source Sans Pro', Lato, 'DejaVu Sans', sans-serif" font-size="15">
<title>${escapeMarkup(title)}</title>
${hatching}
<rect width="100%" height="100%" fill="${chartInk.ground}"/>
<text x="${plot.left}" y="32" fill="${chartInk.ink}" font-size="19" font-weight="600">${escapeMarkup(title)}</text>
<text x="${plot.left}" y="55" fill="${chartInk.ink2}">On the line, as the camera sees it: ${escapeMarkup(light)}.</text>
${fieldSvg(chart, levels)}
${axesSvg(axes)}
${oxideLineSvg(axes, report, report.channels, shown)}
${legendSvg(levels)}
</svg>
`;
}
