// Kills `nightjar scan` with SIGKILL at random moments and resumes it, over and over, until the night is done: each tile must be
// recorded exactly once, no flake lost or doubled against a night that was never killed, and no file damaged at any kill. After each
// kill `nightjar verify` has to find the folder sound, and at the end no start may have left anything lying about or untold.
// node tests/acceptance/killResume.mjs [--kills 20] [--seed 1]
import { rmSync } from 'node:fs';
import { join } from 'node:path';
import { damage, makeNight, options, readNight, startScan, withRecords } from './night.mjs';

const { verifyFolder } = await import(new URL('../../.build/daemon/records/index.js', import.meta.url).href);

const { kills, seed } = options({ kills: 20, seed: 1 });
/** Two records of one flake lie this near to each other: three times the stage's repeatability, far less than a flake's distance to the next. */
const sameFlakeUm = 5;
/** Smaller terraces than the run sheet asks for, and readings farther from the layer curve (in standard errors), are not sure. */
const leastUsableUm = 4;
const surelyOnCurve = 3;
/** After so many kills a night is let come to its end, so that several ends are looked at. */
const killsPerNight = 8;

/** Marsaglia's xorshift (J. Stat. Software 8, 14 (2003)): the same seed kills at the same moments, as far as the machine allows. */
let state = seed + 0x9e3779b9;
function random() {
  state ^= state << 13;
  state ^= state >>> 17;
  state ^= state << 5;
  return (state >>> 0) / 4294967296;
}

/** The small chip of the tray `tiny` in coarse frames that overlap much: long enough to be hit in the middle, short enough to be run many times. */
const night = makeNight('kill', (instrument, runSheet) => {
  instrument.simulator = { seed: 7, tray: 'tiny' };
  Object.assign(instrument.camera, { widthPx: 160, heightPx: 130, pixelPitchUm: 11.04 });
  runSheet.overlap = 0.5;
  runSheet.chips = [
    { name: 'T-01', outline: { rectangle: { centreUm: [20000, 20000], widthUm: 760, heightUm: 660, angleDeg: 3 } }, edgeMarginUm: 80, material: 'graphene', oxideNm: 290 },
  ];
});

/** Where in its night a process was killed, and whether the records say that it was at work. */
function whereKilled(data) {
  return withRecords(data, (db, run) => {
    const count = (sql) => db.prepare(sql).pluck().get(run.id);
    const [tiles, planned] = [count('SELECT count(*) FROM tile WHERE run_id = ?'), JSON.parse(run.plan).tileCount];
    const isOnCloseUps = count("SELECT count(*) FROM event WHERE run_id = ? AND kind = 'closeUp'") > 0;
    const place = tiles === 0 ? 'beforeTheFirstTile' : tiles < planned ? 'inTheMiddle' : isOnCloseUps ? 'inCloseUps' : 'atTheEnd';
    const isAtWork = !['parked', 'failed', 'finished'].includes(run.state);
    return { place, isAtWork, changes: count('SELECT count(*) FROM transition WHERE run_id = ?') };
  }) ?? { place: 'beforeTheFirstTile', isAtWork: false, changes: 0 };
}

/** What `nightjar verify` finds wrong; nothing before there is a night. */
async function verified(data) {
  if (withRecords(data, () => true) === undefined) return { problems: [], strewn: [] };
  const { problems, leftovers, orphans } = await verifyFolder(data, { deep: false });
  return { problems: problems.map(({ where, what }) => `verify: ${where}: ${what}`), strewn: [...leftovers, ...orphans] };
}

/** What the starts of a finished night should have done: every cut-off process is told, and nothing that no record names lies where pictures do. */
async function unmended(data, cutOff) {
  const { problems, strewn } = await verified(data);
  const told = withRecords(data, (db, run) => db.prepare("SELECT count(*) FROM transition WHERE run_id = ? AND state = 'failed' AND cause = 'cutOff'").pluck().get(run.id));
  return [...problems, ...strewn.map((file) => `${file} was left lying`), ...(told === cutOff ? [] : [`${cutOff} processes were cut off, and ${told} are told of`])];
}

/** Runs until the end or until `afterMs`, whichever comes first; true when it was killed before the records said that it had finished. */
async function runFor(data, afterMs) {
  const isBegun = withRecords(data, () => true) === true;
  const { child, ended } = startScan(night, data, isBegun ? ['--resume'] : []);
  const timer = setTimeout(() => child.kill('SIGKILL'), afterMs);
  const end = await ended;
  clearTimeout(timer);
  if (end.signal !== 'SIGKILL' && end.code !== 0) throw new Error(`nightjar scan ended with ${end.code ?? end.signal}:\n${end.said}`);
  return end.signal === 'SIGKILL' && readNight(data)?.state !== 'finished';
}

const distance = (a, b) => Math.hypot(a.centreUm.xUm - b.centreUm.xUm, a.centreUm.yUm - b.centreUm.yUm);
const nameOf = (flake) => `${flake.layers ?? 'thick'} layers at ${flake.centreUm.xUm.toFixed(0)}, ${flake.centreUm.yUm.toFixed(0)} (${flake.verdict})`;

/**
 * Whether a reading is sure: its terraces lie well on the layer curve, of a size that is asked for. A killed night looks at some tiles
 * later, with other noise; what lies at the edge of what can be told may then be read otherwise, but must be there all the same, once.
 */
const isSure = ({ verdict, terraces, layers, usableUm }) =>
  verdict === 'flagged' && usableUm >= leastUsableUm && terraces.every(({ call }) => call.layers !== layers || (call.probability > 0.95 && call.misfit < surelyOnCurve));

/** Flakes of `ours` that have no partner of their own in `theirs`: same chip, within 5 um, and read alike where both are sure. */
function unmatched(ours, theirs) {
  const free = [...theirs];
  return ours.filter((flake) => {
    const isLike = (other) => !isSure(flake) || !isSure(other) || other.layers === flake.layers;
    const at = free.findIndex((other) => other.chip === flake.chip && distance(other, flake) < sameFlakeUm && isLike(other));
    if (at >= 0) free.splice(at, 1);
    return at < 0;
  });
}

/** What a killed and resumed night has that the whole one has not, and the other way round. */
function differences(killed, whole) {
  const wrong = damage(killed);
  const [ours, theirs] = [readNight(killed), readNight(whole)];
  if (ours.state !== 'finished') wrong.push(`the night is ${ours.state}, not finished`);
  const found = ours.tiles.map(({ tile }) => tile).join(' ');
  const planned = ours.planned.map(({ index }) => index).sort((a, b) => a - b).join(' ');
  if (found !== planned) wrong.push(`tiles recorded: ${found}\n  planned: ${planned}`);
  wrong.push(...ours.tiles.filter(({ outcome }) => outcome !== 'done').map(({ tile, reason }) => `tile ${tile} was skipped: ${reason}`));
  wrong.push(...unmatched(theirs.flakes.filter(isSure), ours.flakes).map((flake) => `lost: ${nameOf(flake)}`));
  const sure = ours.flakes.filter(isSure);
  wrong.push(...sure.filter((flake, n) => sure.some((other, m) => m < n && distance(flake, other) < sameFlakeUm)).map((flake) => `doubled: ${nameOf(flake)}`));
  wrong.push(...unmatched(sure, theirs.flakes).map((flake) => `doubled or new: ${nameOf(flake)}`));
  return wrong;
}

async function main() {
  const whole = join(night.folder, 'whole');
  const begin = performance.now();
  await runFor(whole, 300_000);
  const wholeMs = performance.now() - begin;
  const { tiles, flakes } = readNight(whole);
  const flagged = flakes.filter(isSure).length;
  console.log(`unkilled: ${tiles.length} tiles, ${flakes.length} flakes, ${flagged} surely flagged, in ${(wholeMs / 1000).toFixed(1)} s`);
  const wrong = flagged === 0 ? ['nothing was flagged, so that nothing could be lost'] : [];
  let done = 0;
  let strewn = 0;
  const places = { beforeTheFirstTile: 0, inTheMiddle: 0, inCloseUps: 0, atTheEnd: 0 };
  for (let nights = 1; done < kills; nights++) {
    const data = join(night.folder, `killed-${nights}`);
    let killsHere = 0;
    // By how often the state had changed: a start that is itself killed before it could tell leaves the same one to be told.
    const cutOffs = new Set();
    for (let running = true; running; ) {
      const killed = await runFor(data, done < kills && killsHere < killsPerNight ? 0.6 * random() * wholeMs : 300_000);
      running = killed;
      if (!killed) continue;
      done++;
      killsHere++;
      const { place, isAtWork, changes } = whereKilled(data);
      places[place]++;
      if (isAtWork) cutOffs.add(changes);
      const found = await verified(data);
      if (found.strewn.length > 0) strewn++;
      wrong.push(...[...damage(data), ...found.problems].map((what) => `after kill ${done}: ${what}`));
    }
    const here = [...differences(data, whole), ...(await unmended(data, cutOffs.size))];
    wrong.push(...here.map((what) => `night ${nights}: ${what}`));
    console.log(`night ${nights}: killed ${killsHere} times, then finished; ${here.length === 0 ? 'as if it had never been killed' : `${here.length} differences`}`);
    if (here.length === 0) rmSync(data, { recursive: true });
  }
  const { beforeTheFirstTile, inTheMiddle, inCloseUps, atTheEnd } = places;
  const seconds = (performance.now() - begin) / 1000;
  console.log(
    `${done} kills: ${beforeTheFirstTile} before the first tile, ${inTheMiddle} in the middle, ${inCloseUps} in close-ups, ${atTheEnd} at the end; ` +
      `${strewn} left unrecorded files, which the next start took away; ${wrong.length} wrong; ${(seconds / Math.max(1, done)).toFixed(1)} s a kill`,
  );
  // A few kills may all miss it, or fall into one night's close-ups.
  if (kills >= 20 && inTheMiddle === 0) wrong.push('no kill fell into the middle of a scan');
  return wrong;
}

const wrong = await main();
for (const what of wrong) console.log(`WRONG ${what}`);
if (wrong.length === 0) rmSync(night.folder, { recursive: true });
else console.log(`the folders are left in ${night.folder}`);
process.exitCode = wrong.length === 0 ? 0 : 1;
