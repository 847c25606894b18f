import Database from 'better-sqlite3';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { canonicalDump, openRecords, verifyRecords, type CloseUpRecord, type RecordsStore } from '../../../daemon/records/index.ts';
import { closeUpFile } from '../../../daemon/records/layout.ts';
import { codeOf, commit, folders, runRecord, writeFile } from './samples.ts';

/** Protects: a close-up and its pictures are in the records whole, once, and are found again. Laws of our own. */

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

const call = { layers: 2, probability: 0.97, stray: 0.01, probabilities: [0, 0.02, 0.97, 0.01, 0, 0, 0, 0, 0, 0, 0, 0], misfit: 0.8 };
const [file, rawFile] = [closeUpFile('night-1', 'F-1', 'closeUp', 'shown'), closeUpFile('night-1', 'F-1', 'closeUp', 'raw')];
const taken: CloseUpRecord = {
  flakeId: 'F-1',
  chip: 'K-07',
  opticalPath: 'closeUp',
  outcome: 'done',
  takenAtMs: 1_790_000_100_000,
  tookMs: 2750.5,
  centreUm: { xUm: 12.5, yUm: -3.25 },
  zUm: 972.125,
  sharpness: 0.02,
  leastSharpness: 0.004,
  picture: { file, rawFile, widthPx: 300, heightPx: 200, centreUm: { xUm: 12, yUm: -3 }, cameraToStageUm: [0.138, 0, 0, -0.138] },
  terraces: [{ terrace: 0, contrast: [0.1, 0.2, 0.05], contrastError: [0.01, 0.01, 0.02], areaUm2: 48.5, call, together: { ...call, probability: 0.98 } }],
};
const skipped: CloseUpRecord = { flakeId: 'F-2', chip: 'K-07', opticalPath: 'closeUp', outcome: 'skipped', reason: 'focusNotFound', takenAtMs: 1_790_000_104_000, tookMs: 4000 };

function begun(): RecordsStore {
  const records = open(make());
  records.beginRun(runRecord);
  writeFile(records.directory, file, 'shown');
  writeFile(records.directory, rawFile, 'raw');
  return records;
}

describe('close-ups in the records', () => {
  it('come back as they were, in the order in which they were taken', () => {
    const records = begun();
    records.commitCloseUp('night-1', taken);
    records.commitCloseUp('night-1', skipped);
    records.close();
    const again = open(records.directory);
    expect(again.closeUps('night-1')).toEqual([taken, skipped]);
    expect(again.storedFiles('night-1').map((each) => each.file)).toEqual([rawFile, file].sort());
  });

  it('are kept once for each flake and optical path', () => {
    const records = begun();
    records.commitCloseUp('night-1', taken);
    expect(() => records.commitCloseUp('night-1', { ...skipped, flakeId: 'F-1' })).toThrow();
    records.commitCloseUp('night-1', { ...skipped, flakeId: 'F-1', opticalPath: 'oil' });
    expect(records.closeUps('night-1').map(({ outcome }) => outcome)).toEqual(['done', 'skipped']);
  });

  it('are not written where their picture is missing', () => {
    const records = open(make());
    records.beginRun(runRecord);
    expect(codeOf(() => records.commitCloseUp('night-1', taken))).toBe('writeFailed');
    expect(records.closeUps('night-1')).toEqual([]);
  });

  it('are verified with their pictures, and are in the dump', async () => {
    const records = begun();
    records.commitTile('night-1', commit(1));
    records.commitCloseUp('night-1', taken);
    expect(await verifyRecords(records)).toMatchObject({ sound: true, filesChecked: 2, orphans: [] });
    const dump = canonicalDump(records, 'night-1');
    expect(dump.split('\n').find((each) => each.startsWith('closeUp '))).toContain('"flakeId":"F-1"');
    expect(dump).not.toContain('night-1');
    writeFileSync(join(records.directory, file), 'another');
    expect(await verifyRecords(records)).toMatchObject({ sound: false, problems: [{ kind: 'fileChanged', where: file }] });
  });

  it('have their table in records of before there were any', () => {
    const directory = make();
    const db = new Database(join(directory, 'nightjar.sqlite'));
    db.exec(readFileSync(new URL('version1.sql', import.meta.url), 'utf8'));
    db.close();
    const records = open(directory);
    expect(records.closeUps('night-1')).toEqual([]);
    records.commitCloseUp('night-1', skipped);
    expect(records.closeUps('night-1')).toEqual([skipped]);
  });

  it('that are damaged are named', async () => {
    const records = begun();
    records.commitCloseUp('night-1', taken);
    const db = new Database(join(records.directory, 'nightjar.sqlite'));
    db.exec("UPDATE close_up SET terraces = '[{}]'");
    db.close();
    expect((await verifyRecords(records)).problems).toMatchObject([{ kind: 'unreadableRow', where: expect.stringContaining('close_up') }]);
  });
});
