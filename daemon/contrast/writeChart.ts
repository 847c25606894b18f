import { writeFile } from 'node:fs/promises';
import { extname } from 'node:path';
import sharp from 'sharp';
import { NightjarError } from '../errors/index.ts';
import { contrastChartSvg } from './chartSvg.ts';
import type { ContrastReport } from '../../planner/optics/index.ts';

/** Pixels per unit of the SVG, so that small letters stay sharp on paper. */
const pngScale = 2;
const svgDpi = 72;

/** Whether a chart can be written under this name. Throws `badUsage`. */
export function checkChartName(file: string): void {
  if (!['.svg', '.png'].includes(extname(file).toLowerCase())) throw new NightjarError('badUsage', { reason: `--chart ${file}: a name that ends in .svg or .png is wanted` });
}

/** Draws the chart as SVG, or as PNG from the same SVG, by the ending of the name. Throws `badUsage` for another ending. */
export async function writeChart(report: ContrastReport, file: string): Promise<void> {
  checkChartName(file);
  const svg = contrastChartSvg(report);
  const isSvg = extname(file).toLowerCase() === '.svg';
  await writeFile(file, isSvg ? svg : await sharp(Buffer.from(svg), { density: pngScale * svgDpi }).png().toBuffer());
}
