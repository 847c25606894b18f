import Database from 'better-sqlite3';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { canonicalDump, openRecords, verifyRecords } from '../../../daemon/records/index.ts';
import type { NewVerdict, RecordsStore, VerdictCommit } from '../../../daemon/records/index.ts';
import { chipRecord, codeOf, commit, flake, folders, runRecord } from './samples.ts';

/** Protects: what a person said is kept for good with its history, whole or not at all, and calibrates like chips alone. Laws of our own. */

const { make, clear } = folders();
const opened: RecordsStore[] = [];
afterEach(() => {
  for (const records of opened.splice(0)) records.close();
  clear();
});

function open(directory: string, options = {}): RecordsStore {
  const records = openRecords(directory, options);
  opened.push(records);
  return records;
}

const under = { opticalPath: 'survey', material: 'graphene', substrate: 'sio2-si', oxideNm: 290 };

function verdict(more: Partial<NewVerdict> = {}): NewVerdict {
  return {
    flakeId: 'F-1', chip: 'K-07', terrace: 0, atUm: { xUm: 12, yUm: -2 }, contrast: [0.05, 0.11, 0.02], contrastError: [0.004, 0.003, 0.006],
    predictedLayers: 1, predictedProbability: 0.97, layers: 2, source: 'raman', initials: 'm.o.', atMs: 1_790_000_100_000, under, ...more,
  };
}

const given = (...verdicts: NewVerdict[]): VerdictCommit => ({ atMs: 1_790_000_100_000, given: verdicts, withdrawn: [], flakes: [], chips: [] });

function begun(): RecordsStore {
  const records = open(make());
  records.beginRun(runRecord);
  records.commitTile('night-1', commit(1));
  return records;
}

describe('a verdict in the records', () => {
  it('comes back as it was given, with the flakes and the chip that are read otherwise because of it', () => {
    const records = begun();
    const calibration = { terraces: 14, labels: 1, oxideNm: 287.3, oxideErrorNm: 1.1, scale: [0.97, 0.98, 0.97] };
    const reread = { ...flake('F-1', 1), layers: 2, rank: 2 };
    records.commitVerdicts('night-1', { ...given(verdict({ note: 'G peak only' })), flakes: [reread], chips: [{ ...chipRecord('K-07'), calibration }] });
    records.close();
    const again = open(records.directory);
    expect(again.verdicts('night-1')).toEqual([{ ...verdict({ note: 'G peak only' }), seq: 1 }]);
    expect(again.flakes('night-1')).toEqual([reread]);
    expect(again.chips('night-1')).toEqual([{ ...chipRecord('K-07'), calibration }]);
  });

  it('that is taken back calibrates nothing any more, and stays in the history with the time', () => {
    const records = begun();
    records.commitVerdicts('night-1', given(verdict(), verdict({ terrace: 1, layers: 3 })));
    expect(records.labels(under).map((label) => label.layers)).toEqual([2, 3]);
    records.commitVerdicts('night-1', { ...given(), atMs: 7, withdrawn: [1] });
    expect(records.labels(under)).toEqual([{ contrast: [0.05, 0.11, 0.02], contrastError: [0.004, 0.003, 0.006], layers: 3, source: 'raman' }]);
    expect(records.verdicts('night-1').map((each) => each.withdrawnAtMs)).toEqual([7, undefined]);
    expect(canonicalDump(records, 'night-1').match(/^verdict /gm)?.length).toBe(2);
  });

  it('is not written when anything that belongs to it is not', () => {
    const records = begun();
    expect(codeOf(() => records.commitVerdicts('night-1', { ...given(verdict()), withdrawn: [99] }))).toBe('internal');
    expect(codeOf(() => records.commitVerdicts('none', given(verdict())))).toBe('noSuchRun');
    // A flake that cannot be written as JSON: the verdict before it in the same transaction must go with it.
    const endless: Record<string, unknown> = { ...flake('F-2', 1) };
    endless.itself = endless;
    expect(() => records.commitVerdicts('night-1', { ...given(verdict()), flakes: [endless as never] })).toThrow();
    expect(records.verdicts('night-1')).toEqual([]);
  });

  it('calibrates what has the same light, material, substrate and oxide, whichever night it was given in', () => {
    const records = begun();
    records.beginRun({ ...runRecord, id: 'night-2' });
    records.commitVerdicts('night-1', given(verdict()));
    records.commitVerdicts('night-2', given(verdict({ layers: 4 }), verdict({ under: { ...under, oxideNm: 300 } }), verdict({ under: { ...under, opticalPath: 'close' } }), verdict({ under: { ...under, material: 'hbn' } })));
    expect(records.labels(under).map((label) => label.layers)).toEqual([2, 4]);
    expect(records.labels({ ...under, oxideNm: 300 }).length).toBe(1);
    expect(records.labels({ ...under, substrate: 'other' })).toEqual([]);
  });

  it('that was damaged on the disk is named by the check', async () => {
    const records = begun();
    records.commitVerdicts('night-1', given(verdict()));
    expect((await verifyRecords(records)).sound).toBe(true);
    const db = new Database(join(records.directory, 'nightjar.sqlite'));
    db.exec(`UPDATE verdict SET source = 'hearsay'`);
    db.close();
    const report = await verifyRecords(records);
    expect(report.sound).toBe(false);
    expect(report.problems).toMatchObject([{ kind: 'unreadableRow', where: expect.stringContaining('verdict') }]);
  });
});

describe('records of version 1', () => {
  function old(): string {
    const directory = make();
    const db = new Database(join(directory, 'nightjar.sqlite'));
    db.exec(readFileSync(new URL('version1.sql', import.meta.url), 'utf8'));
    db.close();
    return directory;
  }

  it('are brought up when they are opened for writing, with all that is in them, and take verdicts', () => {
    const directory = old();
    const records = open(directory);
    expect(records.run('night-1')?.title).toBe('Two chips');
    expect(records.chips('night-1')).toEqual([chipRecord('K-07')]);
    expect(records.flakes('night-1').map((each) => each.id)).toEqual(['F-1']);
    records.commitVerdicts('night-1', given(verdict()));
    records.close();
    expect(open(directory, { readOnly: true }).verdicts('night-1').length).toBe(1);
  });

  it('are left as they are when they are only read, and by a migration that breaks off', () => {
    const directory = old();
    expect(codeOf(() => openRecords(directory, { readOnly: true }))).toBe('otherVersion');
    // A table of the same name in the way: the step before it, a new column, must not stay.
    const db = new Database(join(directory, 'nightjar.sqlite'));
    db.exec('CREATE TABLE verdict (x)');
    expect(codeOf(() => openRecords(directory))).toBe('damagedRecords');
    expect(db.pragma('user_version', { simple: true })).toBe(1);
    expect(db.prepare("SELECT count(*) FROM pragma_table_info('chip') WHERE name = 'calibration'").pluck().get()).toBe(0);
    db.close();
  });

  it('of a version still to come are refused', () => {
    const directory = old();
    const db = new Database(join(directory, 'nightjar.sqlite'));
    db.pragma('user_version = 98');
    db.close();
    expect(codeOf(() => openRecords(directory))).toBe('otherVersion');
  });
});
