import type { DeviceName } from '../../simulators/index.ts';
import { randomStream, type Random } from '../../simulators/random.ts';

type Device = Exclude<DeviceName, 'fieldStop'>;

/** What may happen to a night beside the simulators' own faults: at the computer, or by a person. */
export type OtherKind = 'fillDisk' | 'fillDatabase' | 'crashWorker' | 'loseWorkers' | 'pause' | 'stop' | 'kill' | 'powerCut';
export type DeviceKind = 'corruptReply' | 'loseReply' | 'late' | 'hang' | 'unplug';
export type PlainKind = 'stallX' | 'stallY' | 'stallZ' | 'hitLimit' | 'dropFrame' | 'corruptFrame' | 'blackFrame' | 'saturatedFrame' | 'repeatFrame' | 'tearFrame' | 'loseLamp' | 'fadeLamp' | 'jumpFocus' | 'driftFocus' | 'jumpClock' | 'slowWork' | 'hangWork';

/** One thing that happens to a night. Plain data, so that it can be printed and read. */
export interface Strike {
  readonly kind: PlainKind | OtherKind | `${DeviceKind}:${Device}`;
  /** After the night was begun, s of true time. */
  readonly atS: number;
  /** How often it strikes, where it strikes by the piece. */
  readonly times?: number;
  /** um, um per min, ms or bytes: the fault's own unit. */
  readonly amount?: number;
  /** Mended again after so long; never by itself when left out. */
  readonly forS?: number;
}

export interface FaultScript {
  readonly seed: number;
  readonly strikes: readonly Strike[];
}

const DEVICES = ['stage', 'focus', 'camera', 'turret', 'lamp'] as const;
const HOUR_MS = 3_600_000;

type Draw = (random: Random) => Omit<Strike, 'kind' | 'atS'>;

const few: Draw = (random) => ({ times: 1 + random.below(3) });
/** Up to more than are tried again. */
const some: Draw = (random) => ({ times: 1 + random.below(8) });
/** Seconds, minutes beyond all patience, or for good. */
const away: Draw = (random) => random.pick([() => ({ forS: Math.round(random.between(1, 40)) }), () => ({ forS: Math.round(random.between(60, 900)) }), () => ({})])();
const eitherWay = (random: Random, low: number, high: number): number => Math.round(random.between(low, high)) * random.pick([-1, 1]);

/** How much of each there may be. */
const PLAIN: Readonly<Record<PlainKind | Exclude<OtherKind, 'pause' | 'stop' | 'kill' | 'powerCut'>, Draw>> = {
  stallX: few,
  stallY: few,
  stallZ: few,
  hitLimit: few,
  dropFrame: some,
  corruptFrame: some,
  blackFrame: some,
  saturatedFrame: some,
  repeatFrame: some,
  tearFrame: few,
  loseLamp: away,
  fadeLamp: (random) => ({ amount: Math.round(random.between(20, 400)) * 1000, ...away(random) }),
  jumpFocus: (random) => ({ amount: eitherWay(random, 5, 80) }),
  driftFocus: (random) => ({ amount: eitherWay(random, 1, 12), forS: Math.round(random.between(20, 300)) }),
  jumpClock: (random) => ({ amount: eitherWay(random, 60_000, 12 * HOUR_MS) }),
  slowWork: (random) => ({ amount: Math.round(random.between(500, 30_000)), times: 1 + random.below(20) }),
  hangWork: () => ({ times: 1 }),
  fillDisk: (random) => ({ amount: random.below(40_000) }),
  fillDatabase: (random) => ({ amount: 150_000 + random.below(400_000) }),
  crashWorker: some,
  loseWorkers: () => ({}),
};

const BY_DEVICE: Readonly<Record<DeviceKind, Draw>> = {
  corruptReply: some,
  loseReply: few,
  late: (random) => ({ amount: Math.round(10 ** random.between(2, 4.7)), times: 1 + random.below(4) }),
  hang: few,
  unplug: away,
};

const plainKinds = Object.keys(PLAIN) as (keyof typeof PLAIN)[];
const deviceKinds = Object.keys(BY_DEVICE) as DeviceKind[];

function fault(random: Random, atS: number): Strike {
  // Each plain kind as likely as each kind of a device's trouble.
  const n = random.below(plainKinds.length + deviceKinds.length);
  const plain = plainKinds[n];
  if (plain !== undefined) return { kind: plain, atS, ...PLAIN[plain](random) };
  const kind = deviceKinds[n - plainKinds.length] ?? 'unplug';
  return { kind: `${kind}:${random.pick(DEVICES)}`, atS, ...BY_DEVICE[kind](random) };
}

/** A person pauses, and goes on after a while; or stops. */
function person(random: Random, atS: number): Strike {
  return random.below(3) === 0 ? { kind: 'stop', atS } : { kind: 'pause', atS, forS: Math.round(random.between(1, 600)) };
}

/**
 * What happens to the night of a seed: none to four faults, now and then a person, now and then the end of the process.
 * @param lengthS how long the night should take: everything begins within that
 */
export function faultScriptOf(seed: number, lengthS: number): FaultScript {
  const random = randomStream(seed, 'nights', 'script');
  const moment = (): number => Math.round(1000 * random.between(0, lengthS)) / 1000;
  const strikes: Strike[] = Array.from({ length: random.below(5) }, () => fault(random, moment()));
  for (let left = random.pick([0, 0, 0, 0, 1, 2]); left > 0; left--) strikes.push(person(random, moment()));
  for (let left = random.pick([0, 0, 0, 1, 2]); left > 0; left--) strikes.push({ kind: random.pick<'kill' | 'powerCut'>(['kill', 'powerCut']), atS: moment() });
  return { seed, strikes: strikes.sort((a, b) => a.atS - b.atS) };
}
