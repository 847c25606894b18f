import { figure } from '../errors/words.ts';
import { LINEARITY_BAR, type ChannelLinearity, type LinearityMeasurement, type LinearityResult, type LinearityUnknown } from './types.ts';

const bar = `within ${figure(100 * LINEARITY_BAR)} %`;

function percent(share: number, digits = 1): string {
  return `${figure(100 * share, digits)} %`;
}

/** The channel that is furthest off. */
export function worstOf({ channels }: LinearityMeasurement): ChannelLinearity | undefined {
  return [...channels].sort((a, b) => Math.abs(b.departure) - Math.abs(a.departure))[0];
}

/** Why a camera was not judged, and what to do to have it judged. */
export function unknownSentence(why: LinearityUnknown): string {
  const begin = 'Whether the camera is linear is not known: ';
  switch (why.code) {
    case 'lampByHand':
      return `${begin}the lamp is switched by hand, so that there is no darkness to compare with.`;
    case 'oneExposure':
      return `${begin}it has no two exposures of which one is twice the other (${why.minMs === why.maxMs ? `only ${figure(why.minMs, 3)} ms` : `${figure(why.minMs, 3)} to ${figure(why.maxMs, 3)} ms`}).`;
    case 'tooDark':
      return `${begin}at ${figure(why.longMs, 2)} ms, the longest exposure that is tried, the picture reaches ${percent(why.level)} of its full scale, and ${percent(why.leastLevel)} is the least. Use about ${figure(Math.max(2, Math.min(1000, 0.5 / Math.max(why.level, 1e-3))), 0)} times the light (\`lampIntensity\` of the optical path), or go to a bright place.`;
    case 'tooBright':
      return `${begin}even at ${figure(why.shortMs, 3)} ms and twice that the picture is too bright. Use less light (\`lampIntensity\` of the optical path).`;
    case 'unsteadyLight':
      return `${begin}the light varies from frame to frame (${uncertainWords(why.measured)}). Let the lamp warm up; where it flickers with the mains, give it a steady supply, or use less light, so that exposures are longer.`;
    case 'tooNoisy':
      return `${begin}the pictures are too noisy (${uncertainWords(why.measured)}). Use more light or a brighter place.`;
    case 'atTheBar':
      return `${begin}it is so close to ${percent(LINEARITY_BAR)} that noise would decide (${ratioWords(why.measured)}).`;
  }
}

function uncertainWords({ channels }: LinearityMeasurement): string {
  const most = Math.max(...channels.map(({ uncertainty }) => uncertainty));
  return `the ratio of two exposures is uncertain by ${percent(most, 2)}`;
}

function ratioWords(measured: LinearityMeasurement): string {
  const worst = worstOf(measured);
  return worst ? `${worst.name} is off by ${percent(worst.departure, 2)}, uncertain by ${percent(worst.uncertainty, 2)}` : '';
}

/** What a person reads of a check: each channel's ratio with its uncertainty, the bar, and what follows. */
export function linearityText(result: LinearityResult): string {
  if (result.verdict === 'unknown') return ['measured' in result.why ? table(result.why.measured) : '', unknownSentence(result.why)].filter((text) => text !== '').join('\n');
  const follows = result.verdict === 'linear' ? 'The camera is linear: contrast can be trusted.' : `The camera is not linear: contrast is not to be trusted. ${whatToDo}`;
  return `${table(result.measured)}\n${follows}`;
}

/** What most often bends a camera's numbers. */
export const whatToDo = 'Look for a gamma, an automatic, or a colour correction that is on, and whether `camera.transfer` in the instrument file is true.';

function table({ shortMs, longMs, channels, leftOut }: LinearityMeasurement): string {
  const wanted = longMs / shortMs;
  return [
    `Light at ${figure(longMs, 3)} ms over light at ${figure(shortMs, 3)} ms, dark level taken off (wanted: ${wanted.toFixed(3)} ${bar}):`,
    ...channels.map(({ name, ratio, uncertainty, departure, level }) => `  ${name.padEnd(6)} ${ratio.toFixed(4)} ± ${(ratio * uncertainty).toFixed(4)}   off by ${percent(departure, 2)}, up to ${percent(level, 0)} of full scale`),
    ...(leftOut.length > 0 ? [`  not judged, too dark or too bright: ${leftOut.join(', ')}`] : []),
  ].join('\n');
}
