/**
 * Layer number as colour: buff to wine, so that lightness falls at every step whatever the eye; the number always stands on it.
 * `ink` is the number's own colour (4.5:1 or better on the swatch), `casing` the nearer of the two lines drawn round a mark.
 */
export interface LayerTone {
  readonly fill: string;
  readonly ink: string;
  readonly casing: string;
  /** The line outside the casing: with both, a mark stands out from any picture. */
  readonly outer: string;
}

const DARK = '#0c0a08';
const LIGHT = '#f3ecdf';
const onLight = (fill: string): LayerTone => ({ fill, ink: '#14110e', casing: DARK, outer: LIGHT });
const onDark = (fill: string): LayerTone => ({ fill, ink: '#ffffff', casing: LIGHT, outer: DARK });

const RAMP: readonly LayerTone[] = [
  onLight('#f9f3d5'),
  onLight('#dfcf93'),
  onLight('#d2b158'),
  onLight('#ca9405'),
  onLight('#b97b0d'),
  onDark('#ab6203'),
  onDark('#9e4903'),
  onDark('#922c06'),
  onDark('#830316'),
  onDark('#670228'),
];
const THICK = onDark('#3c5a6e');
const NOT_A_FLAKE = onLight('#a8bac2');

/** `hidden` stands for a prediction that a person does not want to see. */
export type LayerMark = number | 'thick' | 'none' | 'hidden';

/** The tone of 1 to 10 layers, of what is too thick to count, and of what is no flake (0 or anything else). */
export function layerTone(mark: LayerMark): LayerTone {
  if (mark === 'thick') return THICK;
  return (typeof mark === 'number' ? RAMP[mark - 1] : undefined) ?? NOT_A_FLAKE;
}

/** What is written on the swatch. */
export function layerLabel(mark: LayerMark): string {
  if (mark === 'thick') return '10+';
  if (mark === 'hidden') return '?';
  return typeof mark === 'number' && mark >= 1 ? String(mark) : '–';
}
