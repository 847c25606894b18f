import { cidOf } from './cid.ts';
import { flakesInTable } from './mailText.ts';
import { escapeMarkup, oneLine } from '../markup.ts';
import { callText, courseLines, figuresText, footing, headings } from './sayings.ts';
import type { TellingFlake, TellingPicture, Tidings } from './types.ts';

const cell = 'padding:4px 10px 4px 0;text-align:left;border-bottom:1px solid #ccc;';

/** A text from outside, on one line and escaped. */
function said(text: string, length?: number): string {
  return escapeMarkup(oneLine(text, length));
}

/** The mail as HTML: styles within the elements, since mail readers take none from elsewhere; pictures travel with it, nothing is fetched. */
export function mailHtml(tidings: Tidings): string {
  const { kind, sentence, night, course, flakes, troubles, page } = tidings;
  const parts = [
    `<h1 style="font-size:20px;margin:0 0 8px">${headings[kind]}${night ? `: ${said(night.title)} on ${said(night.instrument)}` : ''}</h1>`,
    paragraph(said(sentence, 1000)),
    ...(night ? [paragraph(`${said(figuresText(night))}.`)] : []),
    ...(course ? [list(courseLines(course))] : []),
    ...(page === undefined ? [] : [paragraph(`<a href="${escapeMarkup(page)}">The page</a>: ${escapeMarkup(page)}`)]),
    ...flakes.flatMap((flake, n) => pictured(flake, n, tidings.pictures.get(flake.id))),
    ...(flakes.length > 0 ? [table(flakes.slice(0, flakesInTable))] : []),
    ...(troubles.length > 0 ? [paragraph('Troubles, the latest last:'), list(troubles)] : []),
    `<p style="color:#555;font-size:12px">${escapeMarkup(footing)}</p>`,
  ];
  return `<!doctype html><html lang="en"><head><meta charset="utf-8"><title>${headings[kind]}</title></head><body style="font-family:sans-serif;font-size:15px;line-height:1.45;color:#111;background:#fff">${parts.join('\n')}</body></html>`;
}

function paragraph(html: string): string {
  return `<p style="margin:0 0 10px">${html}</p>`;
}

function list(lines: readonly string[]): string {
  return `<ul style="margin:0 0 10px">${lines.map((line) => `<li>${said(line)}</li>`).join('')}</ul>`;
}

/** One of the best with its picture and what speaks for it; nothing where there is no picture. */
function pictured(flake: TellingFlake, n: number, picture: TellingPicture | undefined): readonly string[] {
  if (!picture) return [];
  const { id, widthPx, heightPx, barUm } = picture;
  const caption = `${n + 1}. ${callText(flake)}, ${flake.usableUm.toFixed(1)} µm usable, on ${oneLine(flake.chip, 60)}`;
  return [
    `<div style="margin:0 0 16px"><img src="cid:${cidOf(id)}" width="${widthPx}" height="${heightPx}" alt="${said(caption)}" style="display:block"><div style="font-size:12px;color:#555">bar: ${barUm} µm</div>` +
      `<strong>${said(caption)}</strong>${list([...flake.reasons, ...flake.cautions.map((caution) => `But ${caution}`)])}</div>`,
  ];
}

function table(flakes: readonly TellingFlake[]): string {
  const row = (cells: readonly string[], tag: 'td' | 'th'): string => `<tr>${cells.map((text) => `<${tag} style="${cell}">${said(text)}</${tag}>`).join('')}</tr>`;
  const rows = flakes.map((flake, n) => row([String(n + 1), callText(flake), flake.usableUm.toFixed(1), Math.round(flake.areaUm2).toString(), oneLine(flake.chip, 60), flake.chipXUm.toFixed(0), flake.chipYUm.toFixed(0), flake.id], 'td'));
  const head = row(['', 'layers', 'usable µm', 'area µm²', 'chip', 'x µm', 'y µm', 'flake'], 'th');
  return `<table style="border-collapse:collapse;font-size:13px">${head}${rows.join('')}</table>${paragraph("Usable: largest circle on that terrace. x and y: from the chip's own corner, along its first edge.")}`;
}
