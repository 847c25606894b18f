import type { LayerFilter } from './flakeList.ts';

/** What a key does on this place. */
export type KeyAction =
  | { readonly do: 'pan'; readonly right: number; readonly up: number }
  | { readonly do: 'only'; readonly filter: LayerFilter }
  | { readonly do: 'zoomIn' | 'zoomOut' | 'whole' | 'follow' | 'next' | 'previous' | 'pauseOrGoOn' | 'stop' | 'help' | 'leave' | 'outline' | 'contrast' | 'closeUp' | 'there' | 'judge' | 'judgeNext' | 'veil' | 'takeBack' | 'optics' | 'controls' | 'startNight' | 'checkAgain' };

export interface KeyPress {
  readonly key: string;
  readonly shift: boolean;
  /** Ctrl, Alt or Meta: then it is the browser's. */
  readonly chord: boolean;
  /** What has the focus: a control has Space and Enter, a list has the arrows, a text field has every key. */
  readonly focusOn: 'text' | 'control' | 'list' | 'elsewhere';
}

/** How far an arrow moves the map, as a share of what is seen. */
const PAN = 0.2;

const NAMED: Readonly<Record<string, KeyAction>> = {
  '+': { do: 'zoomIn' },
  '=': { do: 'zoomIn' },
  '-': { do: 'zoomOut' },
  '\u2212': { do: 'zoomOut' },
  '0': { do: 'whole' },
  t: { do: 'follow' },
  n: { do: 'next' },
  p: { do: 'previous' },
  o: { do: 'outline' },
  x: { do: 'contrast' },
  h: { do: 'closeUp' },
  g: { do: 'there' },
  j: { do: 'judge' },
  u: { do: 'judgeNext' },
  v: { do: 'veil' },
  z: { do: 'takeBack' },
  c: { do: 'optics' },
  k: { do: 'controls' },
  s: { do: 'startNight' },
  r: { do: 'checkAgain' },
  d: { do: 'only', filter: 'rejected' },
  '?': { do: 'help' },
};

const ARROWS: Readonly<Record<string, KeyAction>> = {
  ArrowLeft: { do: 'pan', right: -PAN, up: 0 },
  ArrowRight: { do: 'pan', right: PAN, up: 0 },
  ArrowUp: { do: 'pan', right: 0, up: PAN },
  ArrowDown: { do: 'pan', right: 0, up: -PAN },
};

/** What a key press means; `undefined` when it is not ours. `letters` is false when single-character keys are switched off. */
export function keyAction(press: KeyPress, letters: boolean): KeyAction | undefined {
  if (press.chord || press.focusOn === 'text') return undefined;
  if (press.key === 'Escape') return { do: press.shift ? 'stop' : 'leave' };
  if (press.key in ARROWS) return press.focusOn === 'list' ? undefined : ARROWS[press.key];
  if (press.key === ' ') return press.focusOn === 'control' ? undefined : { do: 'pauseOrGoOn' };
  if (!letters) return undefined;
  if (/^[1-9]$/.test(press.key)) return { do: 'only', filter: Number(press.key) };
  return NAMED[press.key.toLowerCase()];
}
