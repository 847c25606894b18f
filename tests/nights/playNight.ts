import { createHash } from 'node:crypto';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { canonicalDump, openRecords } from '../../daemon/records/index.ts';
import { verifyRecords } from '../../daemon/records/check/verify.ts';
import type { Flake } from '../../planner/flakes/types.ts';
import { randomStream } from '../../simulators/random.ts';
import { startMs } from '../support/tinyNight.ts';
import { isDeath, runAttempt, type AttemptStory } from './attempt.ts';
import { leftInTheEvening, type Left } from './bench.ts';
import { faultScriptOf, type FaultScript, type Strike } from './faultScript.ts';
import { cutPower } from './powerCut.ts';
import type { NightStory } from './story.ts';
import { variationOf, type Variation } from './variations.ts';

/** A night that parks is mended and gone on with; after so many parks something else is wrong. */
const MOST_MENDINGS = 2;
/** From the end of one process to the start of the next. */
const DOWN_MS = 300_000;

/** What is still to come after the first death among the strikes, in the time of the next process. */
function afterDeath(strikes: readonly Strike[]): readonly Strike[] {
  const at = strikes.findIndex(isDeath);
  return strikes.slice(at + 1).map((one) => ({ ...one, atS: one.atS - (strikes[at]?.atS ?? 0) }));
}

/** The next process finds the instrument as it was; after a power cut a person has sent it home, objective first. */
function foundAgain({ left, cause }: AttemptStory, variation: Variation): Left {
  const { limits } = variation.files.config;
  const home = { ...leftInTheEvening(variation.files.config, 0), stageUm: { xUm: limits.xMinUm, yUm: limits.yMinUm } };
  return { ...(cause === 'powerCut' ? home : left), atMs: left.atMs + DOWN_MS };
}

interface Played {
  readonly folder: string;
  readonly attempts: readonly AttemptStory[];
}

/** From process to process until the night is finished, or cannot be. */
async function playAttempts(variation: Variation, script: FaultScript, top: string): Promise<Played> {
  const attempts: AttemptStory[] = [];
  let { strikes } = script;
  let left = leftInTheEvening(variation.files.config, startMs);
  let folder = join(top, 'data-1');
  for (let mendings = 0; mendings <= MOST_MENDINGS; ) {
    const remains = join(top, `data-${attempts.length + 2}`);
    const attempt = await runAttempt({ variation, folder, left, strikes, isResumed: attempts.length > 0, remains });
    attempts.push(attempt);
    if (attempt.end === 'finished' || attempt.end === 'hung') break;
    if (attempt.end === 'died') {
      folder = remains;
      if (attempt.cause === 'powerCut') cutPower(folder, randomStream(script.seed, `${attempts.length}`, 'power cut'));
      strikes = afterDeath(strikes);
      if (isFinished(folder)) break;
    } else {
      mendings++;
      strikes = [];
    }
    left = foundAgain(attempt, variation);
  }
  return { folder, attempts };
}

function isFinished(folder: string): boolean {
  const records = openRecords(folder);
  try {
    return records.latestRun()?.state === 'finished';
  } finally {
    records.close();
  }
}

type Kept = Pick<NightStory, 'planned' | 'tiles' | 'transitions' | 'flakes' | 'verified' | 'fingerprint'>;

/** What the records say in the end. */
async function keptIn(folder: string): Promise<Kept> {
  const records = openRecords(folder);
  try {
    const run = records.latestRun();
    if (!run) throw new Error('the records hold no night');
    const { id, plan } = run;
    return {
      planned: plan.chips.flatMap((chip) => chip.tiles.map(({ index }) => ({ tile: index, chip: chip.name }))),
      tiles: records.tiles(id).map(({ tile, chip, outcome, reason }) => ({ tile, chip, outcome, ...(reason === undefined ? {} : { reason }) })),
      transitions: records.transitions(id),
      flakes: records.flakes(id),
      verified: await verifyRecords(records),
      fingerprint: createHash('sha256').update(canonicalDump(records, id, { times: true, events: true })).digest('hex'),
    };
  } finally {
    records.close();
  }
}

async function inFolder<T>(work: (top: string) => Promise<T>): Promise<T> {
  const top = mkdtempSync(join(tmpdir(), 'nightjar-nights-'));
  try {
    return await work(top);
  } finally {
    rmSync(top, { recursive: true, force: true });
  }
}

/** Nights without faults, and how long the first of them takes. */
interface Twins {
  readonly lastedS: number;
  readonly flakes: readonly (readonly Flake[])[];
}

/** Of the time that a night takes without faults: a twin that is ended there and gone on with sees the rest with other noise and another focus. */
const BROKEN_OFF_AT = 0.4;

async function playTwins(variation: Variation): Promise<Twins> {
  const twin = (strikes: readonly Strike[]) =>
    inFolder(async (top) => {
      const { folder, attempts } = await playAttempts(variation, { seed: 0, strikes }, top);
      const { tiles, flakes } = await keptIn(folder);
      const bad = tiles.filter(({ reason }) => reason !== undefined);
      if (bad.length > 0) throw new Error(`without faults variation ${variation.number} leaves ${bad.length} tiles out: give it another seed`);
      return { lastedS: attempts[0]?.lastedS ?? 0, flakes };
    });
  const first = await twin([]);
  const second = await twin([{ kind: 'kill', atS: BROKEN_OFF_AT * first.lastedS }]);
  return { lastedS: first.lastedS, flakes: [first.flakes, second.flakes] };
}

/** Plays nights; the fault-free twins of each variation are played once and remembered. */
export class NightPlayer {
  readonly #twins = new Map<number, Promise<Twins>>();

  /** The night of a seed, with the faults that the seed draws, or with those of another script. */
  async play(seed: number, script?: FaultScript): Promise<NightStory> {
    const variation = variationOf(seed);
    const { files, number } = variation;
    const twins = await this.#twinsOf(variation);
    const played = script ?? faultScriptOf(seed, twins.lastedS);
    return inFolder(async (top) => {
      const { folder, attempts } = await playAttempts(variation, played, top);
      return { script: played, variation: number, attempts, safeHeightUm: files.config.limits.safeHeightUm, twinFlakes: twins.flakes, ...(await keptIn(folder)) };
    });
  }

  #twinsOf(variation: Variation): Promise<Twins> {
    const known = this.#twins.get(variation.number);
    if (known) return known;
    const twins = playTwins(variation);
    this.#twins.set(variation.number, twins);
    return twins;
  }
}
