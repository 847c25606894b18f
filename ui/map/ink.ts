/** Colours of the map: it looks the same in both themes, as pictures do. */
export const INK = {
  chip: '#201c18',
  plan: '#3d362e',
  chipEdge: '#bdb2a2',
  words: '#f3ecdf',
  wordsQuiet: '#c9bfae',
  skipped: '#6f6557',
  casing: '#0c0a08',
  casingLight: '#f3ecdf',
  accent: '#93c7ab',
} as const;

export const FONT = "'Source Sans 3 Variable', system-ui, sans-serif";
