import { drifted, type Change, type Quantity, type Steadiness } from '../../planner/knownFlake/index.ts';
import type { KnownFlakeVisit } from '../records/types.ts';
import { reasonWords } from '../run/sentences.ts';
import type { NightSteadiness } from './steadiness.ts';

const names: Readonly<Record<Quantity, string>> = { contrast: 'contrast', light: 'light', colour: 'colour of the light', place: 'place', focus: 'focus' };
const inUm: ReadonlySet<Quantity> = new Set(['place', 'focus']);

/**
 * One night's known flake in one line: "Known flake W-1: steady. Contrast 0.071, 1.2 % below the last 12 nights (steady within 2.0 %); light +0.4 %;
 * place 0.8 µm; focus -1.2 µm."
 */
export function nightSentence({ visit, steadiness, inNight }: NightSteadiness): string {
  return [visitSentence(visit, steadiness), ...inNightWords(inNight)].join(' ');
}

/** What one visit brought. */
export function visitSentence(visit: KnownFlakeVisit, steadiness: Steadiness | undefined): string {
  const head = `Known flake ${visit.name}`;
  if (visit.outcome === 'notFound') return `${head}: not found, ${reasonWords(visit.reason)}.`;
  if (!steadiness) return `${head}: found.`;
  const { contrast, nights, changes } = steadiness;
  const value = `contrast ${contrast.toFixed(3)}`;
  if (nights === 0) return `${head}: ${value}. There is no earlier night under this light to hold it against.`;
  const worst = drifted(steadiness);
  const verdict = worst.length === 0 ? 'steady' : `drifted, ${worst.map((change) => aWholeChange(change, nights)).join('; ')}`;
  const [first, ...others] = changes.filter((change) => !worst.includes(change)).map((change, i) => (change.quantity === 'contrast' && i === 0 ? `${value}, ${against(change, nights)}` : `${names[change.quantity]} ${figure(change)}`));
  const rest = first === undefined ? '' : ` ${[capital(first), ...others].join('; ')}.`;
  return `${head}: ${verdict}.${rest}`;
}

/** Only what changed while the night went on: focus always does, and the run follows it. */
function inNightWords(inNight: Steadiness | undefined): readonly string[] {
  const changed = inNight ? drifted(inNight).filter(({ quantity }) => quantity !== 'focus') : [];
  return changed.length === 0 ? [] : [`From the beginning of this night to its end: ${changed.map((change) => `${names[change.quantity]} ${figure(change)}`).join('; ')}.`];
}

function aWholeChange(change: Change, nights: number): string {
  return `${names[change.quantity]} ${against(change, nights)}`;
}

/** "1.2 % below the last 12 nights (steady within 2.0 %)". */
function against(change: Change, nights: number): string {
  const past = nights === 1 ? 'the night before' : `the last ${nights} nights`;
  const within = `(steady within ${size(change, change.bound)})`;
  if (change.quantity === 'place') return `${size(change, change.by)} from that of ${past} ${within}`;
  if (Math.abs(change.by) < 0.0005) return `as in ${past} ${within}`;
  const way = change.by < 0 ? 'below' : 'above';
  return `${size(change, Math.abs(change.by))} ${way} ${past} ${within}`;
}

function figure(change: Change): string {
  const sign = change.quantity === 'place' ? '' : change.by < 0 ? '−' : '+';
  return `${sign}${size(change, Math.abs(change.by))}`;
}

function size({ quantity }: Change, value: number): string {
  return inUm.has(quantity) ? `${value.toFixed(1)} µm` : `${(100 * value).toFixed(1)} %`;
}

function capital(text: string): string {
  return `${text.charAt(0).toUpperCase()}${text.slice(1)}`;
}
