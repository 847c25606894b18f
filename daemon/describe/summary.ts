import { partNames, visible, type Description, type PartName } from '../../drivers/described/index.ts';
import { fitToShow } from '../errors/words.ts';

type Step = Description['identify'];
type Part = NonNullable<Description[PartName]>;

const TITLES: Readonly<Record<PartName, string>> = { stage: 'Stage', focus: 'Focus drive', turret: 'Turret', filterWheel: 'Filter wheel', lamp: 'Lamp', shutter: 'Shutter', fieldStop: 'Field stop' };
/** What each kind of action is for, in the order in which it is told. */
const ACTIONS: readonly (readonly [key: string, words: string])[] = [
  ['position', 'where it is'],
  ['moveTo', 'to a place'],
  ['stop', 'stop'],
  ['set', 'set'],
  ['off', 'off'],
  ['read', 'read'],
  ['open', 'open'],
  ['shut', 'shut'],
];

function entry(words: string, text: string): string {
  return `  ${words.padEnd(14)} ${text}`;
}

function stepText({ send, expect, followedBy, bare }: Step): string {
  const answers = [expect, followedBy].filter((text) => text !== undefined).map((text) => visible(text));
  return `${visible(send)}${bare ? ' (without terminator)' : ''}  →  ${answers.length === 0 ? 'no answer' : answers.join(', then ')}`;
}

function stepsText(words: string, steps: readonly Step[]): string[] {
  return steps.map((step, index) => entry(index === 0 ? words : '', stepText(step)));
}

function hasSteps(value: unknown): value is readonly Step[] {
  return Array.isArray(value);
}

function actions(part: Part): string[] {
  const all: Readonly<Record<string, unknown>> = { ...part };
  return ACTIONS.flatMap(([key, words]) => {
    const steps = all[key];
    return hasSteps(steps) ? stepsText(words, steps) : [];
  });
}

function doneText({ done }: Pick<NonNullable<Description['stage']>, 'done'>): string {
  const every = `every ${done.everyMs} ms, at most ${done.withinMs} ms beyond the way's own time`;
  if (done.checks.length === 0) return entry('still when', `two readings of its position agree (${every})`);
  return done.checks.map(({ send, busy, done: still }) => entry('still when', `${visible(send)}  →  ${still.join(' or ')}${busy.length === 0 ? '' : `; under way: ${busy.join(' or ')}`} (${every})`)).join('\n');
}

type Scales = readonly (readonly [name: string, scale: NonNullable<Description['focus']>['z']])[];

function travelText(raw: NonNullable<Description['stage'] | Description['focus']>, from: string, scales: Scales): string[] {
  const unit = ([name, { unitsPerUm, offsetUnits, decimals }]: Scales[number]): string => `${name}: ${unitsPerUm} units in one µm${offsetUnits === 0 ? '' : `, ${offsetUnits} at 0 µm`}, ${decimals === 0 ? 'whole' : `${decimals} decimals`}`;
  const speed = raw.speed ? `set in ${raw.speed.unitsPerUmPerS} units for one µm/s${raw.speed.perAxis && scales.length > 1 ? ', each axis by itself' : ''}` : 'cannot be set: slower moves are refused';
  return [
    entry('travel', from),
    ...scales.map((scale) => entry('scale', unit(scale))),
    entry('speed', `at most ${raw.maxSpeedUmPerS} µm/s, ${speed}`),
    ...(raw.speed?.set ? stepsText('', raw.speed.set) : []),
    entry('knows where', raw.reference ? `${visible(raw.reference.send)}  →  ${raw.reference.known.join(' or ')}` : 'cannot be asked: after the line was lost, its position counts as lost'),
    doneText(raw),
    ...(raw.home ? stepsText('homing', raw.home.steps) : [entry('homing', 'none: asked for, it is refused')]),
    ...(raw.takeReference ? stepsText('told its place', raw.takeReference) : []),
  ];
}

function stageText(stage: NonNullable<Description['stage']>): string[] {
  const { xMinUm, xMaxUm, yMinUm, yMaxUm } = stage.travel;
  return [...travelText(stage, `x ${xMinUm} to ${xMaxUm} µm, y ${yMinUm} to ${yMaxUm} µm`, [['x', stage.x], ['y', stage.y]])];
}

function noStop({ stop, done, cannotStop }: { readonly stop?: unknown; readonly done: NonNullable<Description['turret']>['done']; readonly cannotStop: boolean }): string[] {
  return [...(stop === undefined && cannotStop ? [entry('stop', 'none: once it moves, it cannot be halted')] : []), doneText({ done })];
}

function fractionText({ unitsAtZero, unitsAtFull }: NonNullable<Description['lamp']>['scale']): string {
  return entry('scale', `${unitsAtZero} units at 0, ${unitsAtFull} at full`);
}

function particulars(description: Description, name: PartName): string[] {
  const { stage, focus, lamp, shutter, fieldStop } = description;
  if (name === 'stage' && stage) return stageText(stage);
  if (name === 'focus' && focus) return travelText(focus, `z ${focus.zMinUm} to ${focus.zMaxUm} µm`, [['z', focus.z]]);
  if (name === 'lamp' && lamp) return [fractionText(lamp.scale), entry('at most', `${lamp.maxIntensity} of its full light`)];
  if (name === 'shutter' && shutter) return [entry('state', `${visible(shutter.state.send)}  →  open: ${shutter.state.open.join(' or ')}; shut: ${shutter.state.shut.join(' or ')}`)];
  if (name === 'fieldStop' && fieldStop) return [fractionText(fieldStop.scale), ...noStop(fieldStop)];
  const turret = name === 'turret' ? description.turret : description.filterWheel;
  return turret ? [entry('positions', `${turret.positions}, the first is number ${turret.first} to the device`), ...noStop(turret)] : [];
}

function partText(description: Description, name: PartName): string {
  const part = description[name];
  return part ? ['', TITLES[name], ...particulars(description, name), ...actions(part)].join('\n') : '';
}

function lineText({ line }: Description): string[] {
  const { terminator, replyTerminator = terminator, echo, replyWithinMs, retries, delayMs } = line;
  return [
    entry('commands', `end with ${visible(terminator)}${echo ? ', and are repeated by the device' : ''}${delayMs > 0 ? `, ${delayMs} ms apart` : ''}`),
    entry('answers', `end with ${visible(replyTerminator)}, and are waited for ${replyWithinMs} ms`),
    entry('repeats', retries === 0 ? 'none' : `at most ${retries}, of questions and of commands that name a place; never of a move by a way`),
  ];
}

/** What a description was understood to say, in plain words. */
export function summaryText(description: Description): string {
  const { maker, model, notes, identify, opening, closing, errors, errorQuery, unsolicited } = description;
  const lines = [
    `${maker} ${model}`,
    ...(notes === undefined ? [] : [notes.trim()]),
    '',
    'Line',
    ...lineText(description),
    ...stepsText('who is there', [identify]),
    ...stepsText('opening', opening),
    ...stepsText('closing', closing),
    ...errors.map((text, index) => entry(index === 0 ? 'refusals' : '', text)),
    ...(errorQuery ? [entry('errors', `after each command without an answer: ${errorQuery.send}  →  ${errorQuery.good.join(' or ')}`)] : []),
    ...unsolicited.map(({ line, means }, index) => entry(index === 0 ? 'unasked' : '', `${line}: ${means}`)),
    ...partNames.map((name) => partText(description, name)).filter((text) => text !== ''),
  ];
  return fitToShow(lines.join('\n'));
}
