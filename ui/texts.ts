import type { ChipView, ProgressView, RunView } from '../daemon/server/messages.ts';
import type { Flake, Terrace, ThicknessCall } from '../planner/flakes/types.ts';
import { layerRange } from '../planner/layers/range.ts';
import { flakeTexts } from './textsFlake.ts';
import { duration, figure, length, probability, timeOfDay, withError, withUnit } from './format.ts';

/** Every English text of the page. Plain, exact, calm: what it is, then what to do. */

const LAYER_WORDS = ['no', 'one', 'two', 'three', 'four', 'five', 'six', 'seven', 'eight', 'nine', 'ten'];
const MATERIALS: Readonly<Record<string, string>> = { hbn: 'hBN', mos2: 'MoS₂', ws2: 'WS₂', mose2: 'MoSe₂', wse2: 'WSe₂', nbse2: 'NbSe₂' };

function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}

/** "one layer", "three layers"; "too thick to count" where none is counted. */
function layers(count: number | null): string {
  if (count === null) return 'too thick to count';
  return `${LAYER_WORDS[count] ?? figure(count)} ${count === 1 ? 'layer' : 'layers'}`;
}

function counted(count: number, one: string, many = `${one}s`): string {
  return `${figure(count)} ${count === 1 ? one : many}`;
}

/** What may honestly be said of a terrace: "one layer", "1 or 2 layers", "7 to 9 layers", or its thickness. */
function terraceName(terrace: Terrace): string {
  const { call } = terrace;
  if (call.thickness) return flakeTexts.thickness(call.thickness);
  const range = layerRange(call);
  if (!range) return 'off the layer curve';
  const { from, to, numbers } = range;
  if (to === null) return numbers.length === 0 ? 'too thick to count' : `${from} layers or more`;
  if (from === to) return layers(from);
  const isWhole = to - from + 1 === numbers.length;
  if (from === 0) return `${numbers.length > 2 ? `up to ${to} layers` : `one layer`}, or none`;
  return to === from + 1 ? `${from} or ${to} layers` : isWhole ? `${from} to ${to} layers` : `${numbers.slice(0, -1).join(', ')} or ${to} layers`;
}

function chipSize(chip: ChipView): string {
  const turn = (-chip.angleDeg * Math.PI) / 180;
  const along = chip.outlineUm.map((p) => p.xUm * Math.cos(turn) - p.yUm * Math.sin(turn));
  const across = chip.outlineUm.map((p) => p.xUm * Math.sin(turn) + p.yUm * Math.cos(turn));
  const mm = (values: readonly number[]): string => figure((Math.max(...values) - Math.min(...values)) / 1000, 1);
  return `${mm(along)} × ${withUnit(Number(mm(across)), 'mm', 1)}`;
}

const material = (name: string): string => MATERIALS[name] ?? name;

function finding(flake: Flake): string {
  if (flake.verdict === 'rejected') return flakeTexts.rejected(flake.reject);
  if (flake.verdict === 'thick') return 'Too thick to count';
  const best = flake.terraces.find((terrace) => terrace.call.layers === flake.layers) ?? flake.terraces[0];
  if (!best) return capital(layers(flake.layers));
  const others = [...new Set(flake.terraces.map((terrace) => terrace.call.layers))].filter((n) => n !== flake.layers);
  if (others.length === 0) return capital(terraceName(best));
  const with_ = others.map((n) => (n === null ? 'a thicker' : `a ${LAYER_WORDS[n] ?? ''}-layer`)).join(' and ');
  return `${capital(terraceName(best))}, with ${with_} terrace${others.length > 1 ? 's' : ''}`;
}

export const texts = {
  name: 'Nightjar',
  watch: 'Watch',
  layers,
  finding,
  terraceName,
  material,
  /** What a chip is, from full to short, for whatever room there is. */
  chipAbout: (chip: ChipView): string[] => {
    const on = `${material(chip.material)} on ${withUnit(chip.oxideNm, 'nm')}`;
    return [`${chipSize(chip)}, ${on} oxide`, `${on} oxide`, on];
  },

  header: {
    theme: { dark: 'Light', light: 'Dark' },
    themeLabel: { dark: 'Use light colours', light: 'Use dark colours' },
    keys: 'Keys',
    optics: 'Contrast',
    stop: 'Stop',
    stopNote: 'Not a safety device',
    stopAbout: 'Ends the night and asks the controllers to halt. What was taken is kept. It is not a safety device.',
    stopKeys: 'Shift+Esc',
  },

  line: {
    label: 'The night',
    nothing: 'No night is running',
    ends: (atMs: number, ended: boolean, seconds: boolean): string => `${ended ? 'ended' : 'done at'} ${timeOfDay(atMs, seconds)}`,
    chip: (name: string, done: number): string => `${name}, ${figure(Math.floor(done * 100))} % done`,
  },

  strip: {
    about: (run: RunView): string[] => [run.title, `operator ${run.operator}`, run.instrument, run.opticalPath, `frames of ${figure(run.fieldWidthUm)} × ${withUnit(run.fieldHeightUm, 'µm')}`],
    simulated: 'Simulated microscope: nothing here is real',
    connecting: 'Connecting to the daemon on this computer',
    nothing: 'The daemon is here and has nothing to do',
    lost: (ageS: number): string => `Connection lost ${duration(ageS)} ago.`,
    lostKept: (clockMs: number | undefined): string => `${clockMs === undefined ? 'Nothing was shown yet.' : `This is the tray as it was at ${timeOfDay(clockMs, true)}.`} A running night does not need this window.`,
    again: (inS: number): string => (inS < 1 ? 'Trying now.' : `Trying again in ${duration(inS)}.`),
    tryNow: 'Try now',
    parked: 'Parked.',
    failed: 'The night ended early.',
    kept: 'Everything taken so far is kept. What happened, and what to do next, stands on the right.',
  },

  now: {
    nothing: 'Nothing is running.',
    nothingToDo: 'Start a night with “nightjar scan” and a run sheet, or see one invented with “nightjar demo”. It appears here by itself.',
    waiting: 'Waiting for the daemon.',
    asOf: (clockMs: number, sentence: string): string => `As of ${timeOfDay(clockMs, true)}: ${sentence}`,
    tiles: 'tiles',
    tilesOf: (done: number, all: number): string => `${figure(done)} of ${figure(all)}`,
    skipped: (count: number, faulty: number): string => [...(count === 0 && faulty > 0 ? [] : [count === 0 ? 'none left out' : `${figure(count)} left out`]), ...(faulty === 0 ? [] : [`${figure(faulty)} unreadable`])].join(', '),
    flagged: 'flagged',
    left: 'left',
    leftNone: 'none',
    allJudged: 'Every flagged flake is judged.',
    doneAt: (p: ProgressView): string => `done at ${timeOfDay(p.doneAtMs, p.leftS < 600)}`,
    ended: (p: ProgressView): string => `ended ${timeOfDay(p.clockMs)}`,
    progressLabel: 'Tiles done',
    pause: 'Pause',
    goOn: 'Go on',
    asking: 'Asking…',
    needsLink: 'These need the connection. So does Stop: use the switch at the stage.',
  },

  map: {
    label: 'The tray. Arrows move it, plus and minus zoom, N and P go from flake to flake.',
    zoomIn: 'Zoom in',
    zoomOut: 'Zoom out',
    whole: 'Whole tray',
    chips: 'Chips',
    chip: (name: string): string => `Chip ${name} whole`,
    follow: 'Follow',
    followLabel: 'Keep the tile being taken in view',
    empty: 'No tray to show yet.',
  },

  list: {
    title: 'Flakes, best first',
    scale: (um: string): string => `bar ${um}`,
    only: (filter: string): string => (filter === 'thick' ? 'Only what is too thick to count' : `Only ${layers(Number(filter))}`),
    all: 'Show all',
    shown: (shown: number, all: number): string => (shown === all ? counted(all, 'flagged', 'flagged') : `${figure(shown)} of ${figure(all)}`),
    emptyRunning: 'Nothing flagged yet. Flakes appear here as they are found, the best at the top.',
    emptyEnded: 'Nothing was flagged.',
    emptyFilter: 'None of these.',
    titleRejected: 'Rejected, largest first',
    emptyRejected: 'Nothing was rejected.',
    rejects: (count: number): string => `${figure(count)} rejected`,
    area: (um2: number): string => withUnit(um2, 'µm²', um2 < 10 ? 1 : 0),
    person: (count: number): string => `judged ${figure(count)}`,
    veiledLabel: (flake: Flake): string => `${flake.chip}, ${length(flake.usableUm)} across, prediction hidden`,
    barWord: 'Bar',
    barLabel: 'A bar that must fit on the part that counts',
    barLength: 'Length of the bar, µm',
    barWidth: 'Width of the bar, µm',
    barFits: (fits: number, open: number): string => `${figure(fits)} ${fits === 1 ? 'fits' : 'fit'}${open > 0 ? '…' : ''}`,
    bar: { fits: 'bar fits', none: 'no room' },
    emptyNone: 'Flakes appear here as they are found.',
    usable: (um: number, short: boolean, thickness: ThicknessCall | undefined): string => `${thickness ? `${withUnit(thickness.nm, 'nm', thickness.nm < 30 ? 1 : 0)}, ` : ''}${withUnit(um, 'µm', um < 10 ? 1 : 0)}${short || thickness ? '' : ' across'}`,
    where: (x: number, y: number): string => `x ${figure(x)}, y ${withUnit(y, 'µm')}`,
    probability: (p: number): string => `p ${probability(p).replace('above ', '> ').replace('below ', '< ')}`,
    noPicture: 'no picture yet',
    label: (flake: Flake): string => `${flake.chip}: ${finding(flake)}, ${length(flake.usableUm)} across`,
  },

  events: { title: 'Events', newest: 'newest first', none: 'Nothing has happened yet.', constancy: 'How steady instrument and judging are' },

  panel: {
    label: (flake: Flake): string => `Flake ${flake.id}`,
    eyebrow: (flake: Flake): string => (flake.id.startsWith(flake.chip) ? `flake ${flake.id}` : `${flake.chip}, flake ${flake.id}`),
    fits: (flake: Flake, errorUm: number): string => `A circle of ${withError(flake.usableUm, errorUm, 'µm')} fits on it.`,
    probability: (p: number): string => `Probability ${probability(p)}.`,
    close: 'Close',
    next: 'Next',
    previous: 'Previous',
    outline: 'Outline',
    contrast: 'Contrast drawn out',
    factor: (factor: number): string => `contrast × ${figure(factor, 1)}`,
    asStored: 'as stored',
    closeUp: (optics: string): string => optics,
    closeUpAbout: (optics: string): string => `Show this flake at ${optics}, as it was looked at again`,
    storedCloseUp: (optics: string): string => `looked at again, ${optics}`,
    stored: (tile: number): string => `stored, tile ${figure(tile)}`,
    live: (ageS: number): string => `live, ${ageS < 1 ? 'just now' : `${duration(ageS)} old`}`,
    noCrop: 'No picture was cut of this flake yet.',
    rejected: 'Rejected: no flake',
    veiled: 'Prediction hidden',
    known: 'What is known of this flake',
    fromTile: (tile: number): string => `map picture, tile ${figure(tile)}`,
    loading: 'Fetching the picture…',
    missing: 'The picture is not in the records.',
    gone: 'This flake is no longer in the list: it was merged with a neighbour, or read again and found to be none.',
  },

  chart: {
    title: 'Optical contrast',
    channels: (count: number): string[] => (count === 1 ? ['light'] : ['red', 'green', 'blue'].slice(0, count)),
    note: 'Ticks: calculated layers. Dots: measured, ± 2 s.e.',
    veiled: 'Dots: measured, ± 2 s.e. The ladder is hidden.',
    noLadder: 'Dots: measured, ± 2 s.e. No ladder calculated yet.',
    measured: (name: string, channel: string, contrast: string): string => `${channel}: ${name} measured at ${contrast}`,
  },

  figures: {
    area: 'area, µm²',
    circle: 'circle, µm',
    terrace: 'terrace',
    choose: (terrace: number): string => `Terrace ${terrace + 1}`,
    person: 'judged',
    onChip: 'On the chip',
    onStage: 'On the stage',
    seenOn: 'Seen on',
    xy: (x: number, y: number): string => `x ${figure(x)}, y ${withUnit(y, 'µm')}`,
    tiles: (tiles: readonly number[]): string => `${tiles.length === 1 ? 'tile' : 'tiles'} ${tiles.slice(0, 4).join(', ')}${tiles.length > 4 ? ` and ${tiles.length - 4} more` : ''}`,
    note: 'Areas and circles ± half a camera pixel along the edge. Judged: layers that a person gave.',
  },

  there: {
    go: 'Take me there',
    going: 'Going there…',
    again: 'Go there again',
    back: 'Back to the stored picture',
    ready: 'Drives the stage to this flake and shows what the camera sees.',
    arrived: 'The stage is here. The outline is where the scan saw it.',
    scanning: (p: ProgressView): string => `The stage is scanning. Pause first, or wait until ${timeOfDay(p.doneAtMs, p.leftS < 600)}.`,
    lost: 'This needs the connection.',
    nothing: 'There is no stage to move: nothing is running.',
  },

  keys: {
    title: 'Keys on Watch',
    letters: 'Single keys are on',
    lettersOff: 'Single keys are off',
    switch: 'Switch them off or on; arrows, Space and Esc always work.',
    close: 'Close',
    list: [
      ['arrows', 'move the tray'],
      ['+ −', 'zoom in, zoom out'],
      ['0', 'whole tray'],
      ['T', 'follow the tile being taken'],
      ['N P', 'next and previous flake'],
      ['1 to 9', 'only flakes of so many layers; again for all'],
      ['D', 'what was rejected, with the reason'],
      ['J', 'give layers: 1 to 9, 0 for ten; E eye, R Raman, A AFM; up and down choose the terrace'],
      ['U', 'the next flake to judge, predictions hidden'],
      ['Z', 'take the number back'],
      ['H', 'the flake at high magnification, where it was looked at again'],
      ['V', 'hide predictions, to judge without them'],
      ['C', 'contrast chart of this oxide and light'],
      ['O', 'outline on the picture'],
      ['X', 'contrast drawn out, or as stored'],
      ['G', 'take me there'],
      ['K', 'the controls: take them, ask for them, keep them, give them up'],
      ['S', 'before the night: start it'],
      ['R', 'before the night: check again'],
      ['Space', 'pause, go on'],
      ['Esc', 'close the flake'],
      ['Shift Esc', 'stop (asks nothing)'],
      ['?', 'this list'],
    ] as readonly (readonly [string, string])[],
  },
} as const;
