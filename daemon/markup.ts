const entities: Readonly<Record<string, string>> = { '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;', "'": '&#39;' };

/** A text from outside within HTML or SVG, in an element or in a quoted attribute. */
export function escapeMarkup(text: string): string {
  return text.replace(/[&<>"']/g, (sign) => entities[sign] ?? sign);
}

/** Longest piece of text from outside that goes into one line. */
const longest = 300;

/**
 * A text from outside on one line: control characters, line and paragraph separators become spaces, so that it can add no header and no line,
 * and what is too long is cut.
 */
export function oneLine(text: string, length = longest): string {
  const flat = text.replace(/[\p{Cc}\p{Zl}\p{Zp}]+/gu, ' ').trim();
  return flat.length <= length ? flat : `${flat.slice(0, length - 1)}…`;
}
