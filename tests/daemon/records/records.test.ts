import Database from 'better-sqlite3';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterEach, describe, expect, it } from 'vitest';
import { hasCode, sentenceFor } from '../../../daemon/errors/index.ts';
import { cropFile, openRecords, tilePictureFile } from '../../../daemon/records/index.ts';
import type { RecordsStore, TileRecord } from '../../../daemon/records/index.ts';
import { chipRecord, codeOf, commit, detection, flake, folders, runRecord, writeFile } from './samples.ts';

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

function begun(): RecordsStore {
  const records = open(make());
  records.beginRun(runRecord);
  return records;
}

/** Closes and opens again: what is read then came from the disk. */
function reopened(records: RecordsStore): RecordsStore {
  records.close();
  return open(records.directory);
}

describe('what is written comes back as it was', () => {
  it('a run, its states with their causes, and its events', () => {
    const records = begun();
    records.setRunState('night-1', 'scanning', 'preflight is done', 5);
    records.addEvent('night-1', { atMs: 6, kind: 'flake', text: 'a flake' });
    records.addEvent('night-1', { atMs: 6, kind: 'flake', text: 'another' });
    const again = reopened(records);
    expect(again.run('night-1')).toEqual({ ...runRecord, state: 'scanning' });
    expect(again.transitions('night-1')).toEqual([
      { atMs: runRecord.createdAtMs, state: 'preflight', cause: 'begun' },
      { atMs: 5, state: 'scanning', cause: 'preflight is done' },
    ]);
    expect(again.events('night-1').map((event) => event.text)).toEqual(['a flake', 'another']);
  });

  it('the latest run is the one begun last, whatever its time', () => {
    const records = begun();
    records.beginRun({ ...runRecord, id: 'a-later-one', createdAtMs: 1 });
    expect(records.latestRun()?.id).toBe('a-later-one');
    expect(records.runIds()).toEqual(['night-1', 'a-later-one']);
    expect(open(make()).latestRun()).toBeUndefined();
  });

  it('a chip, with and without its flat field, the last one counts', () => {
    const records = begun();
    const focusPoints = [{ atUm: { xUm: 1, yUm: 2 }, zUm: 4000.25, errorUm: 0.3 }];
    records.saveChip('night-1', chipRecord('K-07'));
    records.saveChip('night-1', chipRecord('K-08', focusPoints));
    const flat = { columns: 2, rows: 1, channels: 1, frames: 9, values: [0.98, Number.NaN] };
    records.saveChip('night-1', { ...chipRecord('K-07', focusPoints), flat });
    expect(reopened(records).chips('night-1')).toEqual([{ ...chipRecord('K-07', focusPoints), flat }, chipRecord('K-08', focusPoints)]);
  });

  it('any tile', () => {
    const number = fc.double({ noNaN: false });
    const known = fc.double({ noNaN: true }).map((value) => value + 0);
    const tile = fc.record({
      chip: fc.string({ unit: 'grapheme', minLength: 1, maxLength: 20 }),
      outcome: fc.constantFrom('done', 'skipped'),
      reason: fc.string({ unit: 'grapheme' }),
      fault: fc.constantFrom('black', 'saturated', 'outOfFocus', 'wrongSize', 'noSubstrate'),
      centreUm: fc.record({ xUm: known, yUm: known }),
      zUm: known,
      takenAtMs: known,
      sharpness: number.map((value) => value + 0),
      substrate: fc.array(number.map((value) => value + 0), { maxLength: 3 }),
      detections: fc.array(fc.constant(detection), { maxLength: 2 }),
    }, { requiredKeys: ['chip', 'outcome', 'centreUm', 'zUm', 'takenAtMs', 'sharpness', 'substrate', 'detections'] });
    const records = begun();
    const written: TileRecord[] = [];
    fc.assert(
      fc.property(tile, (drawn) => {
        const one = { ...drawn, tile: written.length } as TileRecord;
        records.commitTile('night-1', { tile: one, flakes: [], removedFlakes: [], crops: [] });
        written.push(one);
      }),
      { numRuns: 60 },
    );
    // toEqual takes 0 and -0 for the same, as JSON does.
    expect(reopened(records).tiles('night-1')).toEqual(written);
  });

  it('a flake keeps what a later planner adds to it', () => {
    const records = begun();
    const newer = { ...flake('F-1', 1), neighbours: ['F-2'], reject: 'line' as const, layers: null };
    records.commitTile('night-1', { ...commit(1), flakes: [newer] });
    expect(reopened(records).flakes('night-1')).toEqual([newer]);
  });
});

describe('a tile is one transaction', () => {
  it('changes, adds and removes flakes with the tile', () => {
    const records = begun();
    records.commitTile('night-1', commit(0));
    records.commitTile('night-1', { ...commit(1), flakes: [flake('F-0', 1), flake('F-9', 1)] });
    records.commitTile('night-1', { ...commit(2), flakes: [], removedFlakes: ['F-9'] });
    expect(records.flakes('night-1').map((each) => [each.id, each.bestTile])).toEqual([['F-0', 1]]);
    records.updateFlakes('night-1', [{ ...flake('F-0', 1), layers: 2 }]);
    expect(reopened(records).flakes('night-1')[0]?.layers).toBe(2);
  });

  it('is recorded once', () => {
    const records = begun();
    records.commitTile('night-1', commit(3));
    expect(codeOf(() => records.commitTile('night-1', { ...commit(3), flakes: [flake('F-x', 3)] }))).toBe('alreadyRecorded');
    expect(records.tiles('night-1')).toHaveLength(1);
    expect(records.flakes('night-1').map((each) => each.id)).toEqual(['F-3']);
  });

  it('names only files that are there, and remembers their content', () => {
    const records = begun();
    const pictureFile = writeFile(records.directory, tilePictureFile('night-1', 0), 'abc');
    const file = writeFile(records.directory, cropFile('night-1', 'F-0', 0), 'crop');
    const extra = writeFile(records.directory, 'runs/night-1/crops/000000-1.png', '');
    const crop = { flakeId: 'F-0', tile: 0, file, widthPx: 4, heightPx: 3, centreUm: { xUm: 1, yUm: 2 }, cameraToStageUm: [0.69, 0, 0, -0.69] as const };
    const whole = { ...commit(0), tile: { ...commit(0).tile, pictureFile }, crops: [crop], files: [extra] };
    expect(codeOf(() => records.commitTile('night-1', { ...whole, files: ['runs/night-1/none.png'] }))).toBe('writeFailed');
    expect(codeOf(() => records.commitTile('night-1', { ...whole, files: ['../outside'] }))).toBe('writeFailed');
    expect(records.tiles('night-1')).toEqual([]);
    records.commitTile('night-1', whole);
    const again = reopened(records);
    expect(again.crop('night-1', 'F-0')).toEqual(crop);
    expect(again.tiles('night-1')[0]?.pictureFile).toBe(pictureFile);
    // SHA-256 of "abc": FIPS 180-4's own example.
    expect(again.storedFiles('night-1')).toContainEqual({ file: pictureFile, bytes: 3, sha256: 'ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad' });
    expect(again.storedFiles('night-1')).toHaveLength(3);
  });

  it('replaces a flake\'s crop, and lets two flakes share one', () => {
    const records = begun();
    const [first, second] = [0, 1].map((n) => writeFile(records.directory, `runs/night-1/crops/${n}.png`, String(n)));
    const crop = (flakeId: string, tile: number, file = '') => ({ flakeId, tile, file, widthPx: 1, heightPx: 1, centreUm: { xUm: 0, yUm: 0 }, cameraToStageUm: [1, 0, 0, 1] as const });
    records.commitTile('night-1', { ...commit(0), flakes: [flake('A', 0), flake('B', 0)], crops: [crop('A', 0, first), crop('B', 0, first)] });
    records.commitTile('night-1', { ...commit(1), flakes: [flake('A', 1)], crops: [crop('A', 1, second)] });
    records.commitTile('night-1', { ...commit(2), flakes: [], removedFlakes: ['A'] });
    expect(records.crop('night-1', 'A')).toBeUndefined();
    expect(records.crop('night-1', 'B')?.file).toBe(first);
  });

  it('belongs to a run that is there', () => {
    const records = begun();
    expect(codeOf(() => records.commitTile('other', commit(0)))).toBe('noSuchRun');
    expect(codeOf(() => records.setRunState('other', 'parked', 'x', 1))).toBe('noSuchRun');
    expect(codeOf(() => records.addEvent('other', { atMs: 1, kind: 'x', text: 'y' }))).toBe('noSuchRun');
    expect(codeOf(() => records.beginRun(runRecord))).toBe('internal');
    expect(codeOf(() => records.beginRun({ ...runRecord, id: '../up' }))).toBe('internal');
  });
});

describe('opening', () => {
  it('refuses a second writer and lets readers look', () => {
    const records = begun();
    expect(codeOf(() => openRecords(records.directory))).toBe('inUse');
    const reader = open(records.directory, { readOnly: true });
    records.commitTile('night-1', commit(0));
    expect(reader.tiles('night-1')).toHaveLength(1);
    expect(codeOf(() => reader.addEvent('night-1', { atMs: 1, kind: 'x', text: 'y' }))).toBe('writeFailed');
    expect(reopened(records).runIds()).toEqual(['night-1']);
  });

  it('does not make records only to read them', () => {
    expect(codeOf(() => openRecords(make(), { readOnly: true }))).toBe('noRun');
  });

  it('refuses records of another version, without touching them', () => {
    const directory = make();
    const other = new Database(join(directory, 'nightjar.sqlite'));
    other.pragma('user_version = 99');
    other.close();
    expect(codeOf(() => openRecords(directory))).toBe('otherVersion');
    const after = new Database(join(directory, 'nightjar.sqlite'), { readonly: true });
    expect([after.pragma('user_version', { simple: true }), after.pragma('journal_mode', { simple: true })]).toEqual([99, 'delete']);
    after.close();
  });

  it('says when the file is no database, or the folder is a file', () => {
    const directory = make();
    writeFileSync(join(directory, 'nightjar.sqlite'), 'nothing of the kind, and long enough to be looked at as a header of one hundred bytes, which it is not');
    expect(codeOf(() => openRecords(directory))).toBe('damagedRecords');
    expect(codeOf(() => openRecords(join(directory, 'nightjar.sqlite')))).toBe('writeFailed');
  });

  it.each([
    ['tile', "UPDATE tile SET detections = '[{]'", 'detections: not JSON', 'tile 4'],
    ['tile', "UPDATE tile SET detections = '[{\"areaUm2\": 3}]'", 'detections', 'tile 4'],
    ['tile', "UPDATE tile SET outcome = 'maybe'", 'outcome', 'tile 4'],
    ['flake', "UPDATE flake SET flake = 'null'", 'flake', 'id F-4'],
  ])('names the damaged row: %s after %s', (table, sql, reason, row) => {
    const records = begun();
    records.commitTile('night-1', commit(4));
    records.close();
    const db = new Database(join(records.directory, 'nightjar.sqlite'));
    db.exec(sql);
    db.close();
    const again = open(records.directory);
    const read = () => (table === 'tile' ? again.tiles('night-1') : again.flakes('night-1'));
    expect(read).toThrow(expect.objectContaining({ code: 'damagedRecords' }));
    try {
      read();
    } catch (error) {
      expect(hasCode(error, 'damagedRecords') && error.details).toMatchObject({ table, row: expect.stringContaining(row), reason: expect.stringContaining(reason) });
      expect(sentenceFor(error).sentence).toContain(`table ${table}`);
    }
  });
});

describe('a full disk', () => {
  it('is a typed error, and what was recorded before stays', () => {
    const records = open(make(), { maxBytes: 250_000 });
    records.beginRun(runRecord);
    let kept = 0;
    const fill = () => {
      for (; kept < 10_000; kept++) records.commitTile('night-1', commit(kept));
    };
    expect(codeOf(fill)).toBe('diskFull');
    expect(kept).toBeGreaterThan(10);
    expect(records.tiles('night-1')).toHaveLength(kept);
    const again = reopened(records);
    expect(again.flakes('night-1')).toHaveLength(kept);
    expect(again.examine().problems.filter(({ kind }) => kind !== 'outsidePlan')).toEqual([]);
    again.commitTile('night-1', commit(kept));
  });
});
