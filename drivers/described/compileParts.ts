import type { Path, StepReader } from './compileSteps.ts';
import type { AxisPlan, DonePlan, LampPlan, MoverPlan, PartPlans, ShutterPlan, SpeedPlan, Step, YesNo } from './plan.ts';
import type { Scale } from './scale.ts';
import type { Description } from './schema.ts';
import { placeholdersOf } from './template.ts';

type Raw<P extends keyof Description> = NonNullable<Description[P]>;
type RawSteps = Raw<'stage'>['moveTo'];
type RawFraction = Raw<'lamp'>['scale'];

function lengthScale({ unitsPerUm, offsetUnits, decimals, digits, plus }: Raw<'stage'>['x']): Scale {
  return { slope: unitsPerUm, offset: offsetUnits, decimals, digits, plus };
}

function fractionScale(reader: StepReader, { unitsAtZero, unitsAtFull, decimals, digits, plus }: RawFraction, path: Path): Scale {
  if (unitsAtFull === unitsAtZero) reader.add([...path, 'unitsAtFull'], { code: 'sameAtBothEnds' });
  return { slope: unitsAtFull - unitsAtZero, offset: unitsAtZero, decimals, digits, plus };
}

function inOrder(reader: StepReader, low: number, high: number, path: Path): void {
  if (!(low < high)) reader.add(path, { code: 'limitsOrder', low, high });
}

function donePlan(reader: StepReader, raw: Raw<'stage'>['done'], path: Path): DonePlan {
  const checks = raw.checks.map((check, index) => {
    const at = [...path, 'checks', index];
    return {
      ask: reader.question(check.send, at),
      busy: reader.patterns(check.busy, [...at, 'busy']),
      done: reader.patterns(check.done, [...at, 'done']),
      failed: check.failed.map(({ line, means }, n) => ({ pattern: reader.pattern(line, [...at, 'failed', n, 'line'], ['code', 'text']), means })),
    };
  });
  return { checks, everyMs: raw.everyMs, withinMs: raw.withinMs };
}

function referencePlan(reader: StepReader, raw: Raw<'stage'>['reference'], path: Path): YesNo | undefined {
  return raw && reader.yesNo({ send: raw.send, yes: raw.known, no: raw.lost }, path, ['known', 'lost']);
}

function speedPlan(reader: StepReader, raw: Raw<'stage'>['speed'], path: Path, axes: number, isInMove: boolean): SpeedPlan | undefined {
  if (!raw) return undefined;
  if (!raw.set && !isInMove) reader.add(path, { code: 'speedNowhere' });
  if (raw.set && isInMove) reader.add([...path, 'set'], { code: 'speedTwice' });
  const set = raw.set ? reader.commands(raw.set, [...path, 'set'], ['speed'], { isRepeatable: true, isMotion: true }) : [];
  // Two axes at speed v each go at v x sqrt(2) on a slant: divided by it, the way is never faster than asked.
  const share = raw.perAxis ? 1 / Math.sqrt(axes) : 1;
  return { format: raw, unitsPerUmPerS: raw.unitsPerUmPerS * share, set };
}

/** A move either names the place (and may be repeated) or the way to it (and never is). */
function movePlan(reader: StepReader, raw: RawSteps, path: Path, names: readonly string[], others: readonly string[]): { readonly steps: Step[]; readonly isRelative: boolean } {
  const relative = names.map((name) => `d${name}`);
  const used = raw.flatMap(({ send }) => [...send.matchAll(/\{ *(\w+) *\}/g)].map((found) => found[1] ?? ''));
  const isRelative = relative.some((name) => used.includes(name));
  if (isRelative && names.some((name) => used.includes(name))) reader.add(path, { code: 'mixedMove' });
  const values = isRelative ? relative : names;
  const steps = reader.steps(raw, path, { values: [...values, ...others], isRepeatable: !isRelative, isMotion: true });
  const inPlace = steps.flatMap(({ send }) => placeholdersOf(send));
  for (const name of values) if (!inPlace.includes(name)) reader.add(path, { code: 'missingPlaceholder', name });
  return { steps, isRelative };
}

type RawTravelling = Raw<'stage'> | Raw<'focus'>;

function travelling(reader: StepReader, device: 'stage' | 'focus', raw: RawTravelling, axes: readonly AxisPlan[]): MoverPlan {
  const names = axes.map(({ name }) => name);
  const move = movePlan(reader, raw.moveTo, [device, 'moveTo'], names, raw.speed ? ['speed'] : []);
  const isInMove = move.steps.some(({ send }) => placeholdersOf(send).includes('speed'));
  const { home } = raw;
  return {
    device,
    axes,
    tolerance: raw.toleranceUm,
    position: reader.questions(raw.position, [device, 'position'], names),
    moveTo: move.steps,
    isRelative: move.isRelative,
    stop: reader.steps(raw.stop, [device, 'stop'], { isRepeatable: true }),
    home: home && { steps: reader.steps(home.steps, [device, 'home', 'steps'], { isMotion: true }), withinMs: home.withinMs },
    takeReference: raw.takeReference && reader.steps(raw.takeReference, [device, 'takeReference']),
    done: donePlan(reader, raw.done, [device, 'done']),
    reference: referencePlan(reader, raw.reference, [device, 'reference']),
    canBeLost: true,
    maxSpeedUmPerS: raw.maxSpeedUmPerS,
    speed: speedPlan(reader, raw.speed, [device, 'speed'], axes.length, isInMove),
  };
}

type SmallDevice = 'turret' | 'filterWheel' | 'fieldStop';

function small(reader: StepReader, device: SmallDevice, raw: Raw<SmallDevice>, axis: AxisPlan, tolerance: number): MoverPlan {
  if (!raw.stop && !raw.cannotStop) reader.add([device], { code: 'cannotBeStopped' });
  const move = reader.commands(raw.moveTo, [device, 'moveTo'], [axis.name], { isRepeatable: true, isMotion: true });
  return {
    device,
    axes: [axis],
    tolerance,
    position: reader.questions(raw.position, [device, 'position'], [axis.name]),
    moveTo: move,
    isRelative: false,
    stop: raw.stop ? reader.steps(raw.stop, [device, 'stop'], { isRepeatable: true }) : [],
    home: undefined,
    takeReference: undefined,
    done: donePlan(reader, raw.done, [device, 'done']),
    reference: undefined,
    canBeLost: false,
    maxSpeedUmPerS: undefined,
    speed: undefined,
  };
}

function stagePlan(reader: StepReader, raw: Raw<'stage'>): NonNullable<PartPlans['stage']> {
  const { travel, x, y } = raw;
  inOrder(reader, travel.xMinUm, travel.xMaxUm, ['stage', 'travel', 'xMaxUm']);
  inOrder(reader, travel.yMinUm, travel.yMaxUm, ['stage', 'travel', 'yMaxUm']);
  return { mover: travelling(reader, 'stage', raw, [{ name: 'x', scale: lengthScale(x) }, { name: 'y', scale: lengthScale(y) }]), travel };
}

function focusPlan(reader: StepReader, raw: Raw<'focus'>): NonNullable<PartPlans['focus']> {
  const { zMinUm, zMaxUm, z } = raw;
  inOrder(reader, zMinUm, zMaxUm, ['focus', 'zMaxUm']);
  return { mover: travelling(reader, 'focus', raw, [{ name: 'z', scale: lengthScale(z) }]), zMinUm, zMaxUm };
}

function turretPlan(reader: StepReader, device: 'turret' | 'filterWheel', raw: Raw<'turret'>): NonNullable<PartPlans['turret']> {
  const scale = { slope: 1, offset: raw.first, decimals: 0, digits: 1, plus: false };
  return { mover: small(reader, device, raw, { name: 'position', scale }, 0), positions: raw.positions };
}

function fieldStopPlan(reader: StepReader, raw: Raw<'fieldStop'>): NonNullable<PartPlans['fieldStop']> {
  return { mover: small(reader, 'fieldStop', raw, { name: 'opening', scale: fractionScale(reader, raw.scale, ['fieldStop', 'scale']) }, raw.tolerance) };
}

function lampPlan(reader: StepReader, raw: Raw<'lamp'>): LampPlan {
  return {
    scale: fractionScale(reader, raw.scale, ['lamp', 'scale']),
    maxIntensity: raw.maxIntensity,
    set: reader.commands(raw.set, ['lamp', 'set'], ['intensity'], { isRepeatable: true }),
    off: raw.off && reader.steps(raw.off, ['lamp', 'off'], { isRepeatable: true }),
    read: raw.read && reader.questions(raw.read, ['lamp', 'read'], ['intensity']),
    settleMs: raw.settleMs,
  };
}

function shutterPlan(reader: StepReader, { open, shut, state, settleMs }: Raw<'shutter'>): ShutterPlan {
  return {
    open: reader.steps(open, ['shutter', 'open'], { isRepeatable: true }),
    shut: reader.steps(shut, ['shutter', 'shut'], { isRepeatable: true }),
    state: reader.yesNo({ send: state.send, yes: state.open, no: state.shut }, ['shutter', 'state'], ['open', 'shut']),
    settleMs,
  };
}

export function partPlans(reader: StepReader, { stage, focus, turret, filterWheel, fieldStop, lamp, shutter }: Description): PartPlans {
  return {
    ...(stage && { stage: stagePlan(reader, stage) }),
    ...(focus && { focus: focusPlan(reader, focus) }),
    ...(turret && { turret: turretPlan(reader, 'turret', turret) }),
    ...(filterWheel && { filterWheel: turretPlan(reader, 'filterWheel', filterWheel) }),
    ...(fieldStop && { fieldStop: fieldStopPlan(reader, fieldStop) }),
    ...(lamp && { lamp: lampPlan(reader, lamp) }),
    ...(shutter && { shutter: shutterPlan(reader, shutter) }),
  };
}
