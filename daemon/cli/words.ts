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
