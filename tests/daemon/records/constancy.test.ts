import Database from 'better-sqlite3';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { canonicalDump, openRecords, verifyRecords } from '../../../daemon/records/index.ts';
import type { KnownFlakeVisit, NewVerdict, RecordsStore } from '../../../daemon/records/index.ts';
import { runCli } from '../cli/runCli.ts';
import { codeOf, commit, folders, runRecord } from './samples.ts';

/** Protects: visits to the known flake and second verdicts come back as they were written, each night held against earlier ones alone. Laws of our own. */

const { make, clear } = folders();
const opened: RecordsStore[] = [];
afterEach(() => {
  for (const records of opened.splice(0)) records.close();
  clear();
});

function open(directory: string): RecordsStore {
  const records = openRecords(directory);
  opened.push(records);
  return records;
}

const light = '["survey","10x",0.3,"none","none",0.6,8,0]';
const end = { moment: 'first', name: 'W-1', light, exposureMs: 8, takenAtMs: 1_790_000_200_000 } as const;
const seen: KnownFlakeVisit & { readonly outcome: 'found' } = {
  ...end, outcome: 'found', offsetUm: { xUm: 1.5, yUm: -2 }, contrast: [0.18, 0.14, 0.01], contrastError: [0.001, 0.001, 0.001], level: [0.27, 0.26, 0.55], zUm: 1001.25, areaUm2: 350, sharpness: 9,
};
const missed: KnownFlakeVisit = { ...end, outcome: 'notFound', reason: 'focusNotFound' };
const given: NewVerdict = {
  flakeId: 'F-1', chip: 'K-07', terrace: 0, atUm: { xUm: 12, yUm: -2 }, contrast: [0.05, 0.11, 0.02], contrastError: [0.004, 0.003, 0.006],
  predictedLayers: 1, predictedProbability: 0.97, layers: 2, source: 'blindEye', initials: 'm.o.', atMs: 1_790_000_100_000, under: { opticalPath: 'survey', material: 'graphene', substrate: 'sio2-si', oxideNm: 290 },
};

function begun(nights = 1): RecordsStore {
  const records = open(make());
  for (let n = 1; n <= nights; n++) records.beginRun({ ...runRecord, id: `night-${n}` });
  records.commitTile('night-1', commit(1));
  return records;
}

describe('visits to the known flake', () => {
  it('come back as they were written; a later try takes the place of one that failed', () => {
    const records = begun();
    records.putKnownFlake('night-1', missed);
    expect(records.knownFlake('night-1')).toEqual([missed]);
    records.putKnownFlake('night-1', seen);
    records.putKnownFlake('night-1', { ...missed, moment: 'last' });
    records.close();
    const again = open(records.directory);
    expect(again.knownFlake('night-1')).toEqual([seen, { ...missed, moment: 'last' }]);
    expect(codeOf(() => again.putKnownFlake('night-9', seen))).toBe('noSuchRun');
  });

  it('are held against earlier nights of the same flake, light and moment only, the latest first', () => {
    const records = begun(6);
    records.putKnownFlake('night-1', { ...seen, zUm: 1 });
    records.putKnownFlake('night-1', { ...seen, moment: 'last', zUm: 11 });
    records.putKnownFlake('night-2', { ...seen, zUm: 2 });
    records.putKnownFlake('night-3', { ...seen, light: 'another', zUm: 3 });
    records.putKnownFlake('night-4', missed);
    records.putKnownFlake('night-5', { ...seen, zUm: 5 });
    records.putKnownFlake('night-6', { ...seen, zUm: 6 });
    const zOf = (night: string, most: number): readonly number[] => records.knownFlakeBefore(night, seen, most).map(({ zUm }) => zUm);
    expect(zOf('night-5', 30)).toEqual([2, 1]);
    expect(zOf('night-6', 30)).toEqual([5, 2, 1]);
    expect(zOf('night-6', 2)).toEqual([5, 2]);
    expect(zOf('night-1', 30)).toEqual([]);
  });

  it('have their table in records of every version before, and are named when they are damaged', async () => {
    const directory = make();
    const old = new Database(join(directory, 'nightjar.sqlite'));
    old.exec(readFileSync(new URL('version1.sql', import.meta.url), 'utf8'));
    old.close();
    const records = open(directory);
    records.putKnownFlake('night-1', seen);
    expect(records.knownFlake('night-1')).toEqual([seen]);
    const db = new Database(join(directory, 'nightjar.sqlite'));
    expect(db.pragma('user_version', { simple: true })).toBe(4);
    db.exec("UPDATE known_flake SET contrast = '7'");
    db.close();
    expect(JSON.stringify((await verifyRecords(records)).problems)).toContain('known_flake');
  });
});

describe('second verdicts', () => {
  it('stand beside the first one, are replaced and taken back with their history, and are listed over all nights', () => {
    const records = begun(2);
    records.commitVerdicts('night-1', { atMs: 0, given: [given], withdrawn: [], flakes: [], chips: [] });
    const second = { firstSeq: 1, layers: 3, source: 'blindEye', initials: 'm.o.', atMs: 1_790_000_900_000 } as const;
    const seq = records.addSecondVerdict('night-1', second);
    const next = records.addSecondVerdict('night-1', { ...second, layers: 2, atMs: 1_790_000_905_000 }, seq);
    expect(records.secondVerdicts('night-1')).toEqual([
      { ...second, seq, first: { layers: 2, atMs: given.atMs }, withdrawnAtMs: 1_790_000_905_000 },
      { ...second, seq: next, layers: 2, atMs: 1_790_000_905_000, first: { layers: 2, atMs: given.atMs } },
    ]);
    records.withdrawSecondVerdict('night-1', next, 7);
    expect(records.secondVerdicts().map(({ withdrawnAtMs }) => withdrawnAtMs)).toEqual([1_790_000_905_000, 7]);
    expect(records.secondVerdicts('night-2')).toEqual([]);
    expect(records.verdicts('night-1').map(({ layers, withdrawnAtMs }) => [layers, withdrawnAtMs])).toEqual([[2, undefined]]);
    expect(codeOf(() => records.withdrawSecondVerdict('night-1', next, 8))).toBe('internal');
    expect(canonicalDump(records, 'night-1').split('\n').filter((line) => line.startsWith('secondVerdict ')).length).toBe(2);
  });
});

describe('nightjar drift', () => {
  it('gives both in one line, of the latest night or of another, and every figure as JSON', async () => {
    const records = begun(3);
    for (const night of ['night-1', 'night-2', 'night-3']) records.putKnownFlake(night, seen);
    records.putKnownFlake('night-3', { ...seen, level: [0.22, 0.21, 0.45] });
    records.commitVerdicts('night-1', { atMs: 0, given: [given], withdrawn: [], flakes: [], chips: [] });
    records.addSecondVerdict('night-1', { firstSeq: 1, layers: 2, source: 'blindEye', initials: 'm.o.', atMs: given.atMs + 1_500_000 });
    const words = ['drift', '--data', records.directory];
    expect(await runCli(words)).toEqual({
      code: 0,
      errors: '',
      output: 'Known flake W-1: drifted, light 19.2 % below the last 2 nights (steady within 4.8 %). Contrast 0.180, as in the last 2 nights (steady within 3.6 %); colour of the light −0.4 %; place 0.0 µm; focus +0.0 µm. m.o. judged 1 flake twice: 1 alike (100 %, 21 to 100 %), usually 25 min apart.\n',
    });
    expect((await runCli([...words, '--night', 'night-1'])).output).toMatch(/^Known flake W-1: contrast 0\.180\. There is no earlier night/);
    expect(JSON.parse((await runCli([...words, '--json'])).output)).toMatchObject({ runId: 'night-3', knownFlake: { steadiness: { nights: 2 } }, line: expect.stringContaining('drifted') });
    expect(await runCli([...words, '--night', 'none'])).toMatchObject({ code: expect.not.stringMatching('0'), output: '' });
    expect((await runCli(['drift', '--data', make()])).code).not.toBe(0);
  });

  it('says so where there is nothing to tell', async () => {
    const records = begun();
    expect((await runCli(['drift', '--data', records.directory])).output).toMatch(/^There is nothing to tell: /);
  });
});
