import { existsSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { checkOnStart } from '../../../../daemon/records/check/onStart.ts';
import { openRecords, tilePictureFile, verifyRecords, type RecordsStore } from '../../../../daemon/records/index.ts';
import { codeOf, commit, folders, runRecord, writeFile } from '../samples.ts';

/** Protects: what a cut-off process left behind is put right or told at the next start, and nothing whole is deleted. Laws of our own. */

const { make, clear } = folders();
const opened: RecordsStore[] = [];
afterEach(() => {
  for (const records of opened.splice(0)) records.close();
  clear();
});

const nowMs = 1_790_000_500_000;

/** Three tiles with pictures; the night is in the state that its process left it in. */
function night(): RecordsStore {
  const records = openRecords(make());
  opened.push(records);
  records.beginRun(runRecord);
  records.setRunState('night-1', 'scanning', 'prepared', 1);
  for (const tile of [0, 1, 2]) {
    const pictureFile = writeFile(records.directory, tilePictureFile('night-1', tile), `picture ${tile}`);
    records.commitTile('night-1', { ...commit(tile), tile: { ...commit(tile).tile, pictureFile } });
  }
  return records;
}

const eventsOf = (records: RecordsStore): readonly string[] => records.events('night-1').map(({ text }) => text);

describe('a start', () => {
  it('has nothing to do where there is no night, and next to nothing where one ended well', () => {
    const empty = openRecords(make());
    opened.push(empty);
    expect(checkOnStart(empty, nowMs)).toBeUndefined();
    const records = night();
    records.setRunState('night-1', 'finished', 'done', 2);
    expect(checkOnStart(records, nowMs)).toEqual({ cutOff: undefined, removed: [], setAside: [], failed: [], unsynced: [], missing: [], otherSize: [] });
    expect([eventsOf(records), records.run('night-1')?.state]).toEqual([[], 'finished']);
  });

  it('refuses to begin where pictures are left of a night whose records are gone', () => {
    const records = openRecords(make());
    opened.push(records);
    writeFile(records.directory, tilePictureFile('night-1', 0), 'picture 0');
    expect(codeOf(() => checkOnStart(records, nowMs))).toBe('damagedRecords');
  });

  it('records that a night was cut off, each time, and warns of the instrument', () => {
    const records = night();
    expect(checkOnStart(records, nowMs)?.cutOff).toBe('scanning');
    expect(records.run('night-1')?.state).toBe('failed');
    expect(records.transitions('night-1').at(-1)).toEqual({ atMs: nowMs, state: 'failed', cause: 'cutOff' });
    expect(checkOnStart(records, nowMs)?.cutOff).toBeUndefined();
    records.setRunState('night-1', 'paused', 'pauseAsked', nowMs);
    expect(checkOnStart(records, nowMs)?.cutOff).toBe('paused');
    expect(eventsOf(records)).toEqual([expect.stringContaining('cut off while it was scanning, with 3 of 10 tiles'), expect.stringContaining('cut off while it was paused')]);
    expect(eventsOf(records)[0]).toContain('Look whether the objective is low and the lamp on');
  });

  it('removes halves, sets whole unrecorded files aside, and leaves what is recorded alone', async () => {
    const records = night();
    const { directory } = records;
    writeFile(directory, `${tilePictureFile('night-1', 3)}.part`, 'pict');
    writeFile(directory, tilePictureFile('night-1', 3), 'picture 3');
    writeFile(directory, 'runs/night-1/crops/000003-0-raw.png', 'raw');
    writeFile(directory, 'runs/other/tiles/000000.webp.part', 'of another night');
    const found = checkOnStart(records, nowMs);
    expect(found).toMatchObject({ removed: ['runs/night-1/tiles/000003.webp.part'], failed: [] });
    expect([...(found?.setAside ?? [])].sort()).toEqual(['runs/night-1/crops/000003-0-raw.png', 'runs/night-1/tiles/000003.webp']);
    expect(readdirSync(join(directory, 'runs/night-1/tiles')).sort()).toEqual(['000000.webp', '000001.webp', '000002.webp']);
    expect(readFileSync(join(directory, 'runs/night-1/aside/tiles/000003.webp'), 'utf8')).toBe('picture 3');
    expect(existsSync(join(directory, 'runs/other/tiles/000000.webp.part'))).toBe(true);
    expect(eventsOf(records).at(-1)).toContain('1 written by halves removed, 2 whole ones set aside');
    expect(await verifyRecords(records)).toMatchObject({ sound: true, leftovers: ['runs/other/tiles/000000.webp.part'], orphans: [], setAside: ['runs/night-1/aside/crops/000003-0-raw.png', 'runs/night-1/aside/tiles/000003.webp'] });
  });

  it('never replaces what was set aside before', () => {
    const records = night();
    for (const content of ['first', 'second', 'third']) {
      writeFile(records.directory, tilePictureFile('night-1', 3), content);
      checkOnStart(records, nowMs);
    }
    const aside = join(records.directory, 'runs/night-1/aside/tiles');
    expect(readdirSync(aside).sort().map((name) => readFileSync(join(aside, name), 'utf8'))).toEqual(['first', 'second', 'third']);
  });

  it('tells once of recorded pictures that are missing or of another size', () => {
    const records = night();
    rmSync(join(records.directory, tilePictureFile('night-1', 0)));
    writeFileSync(join(records.directory, tilePictureFile('night-1', 1)), 'short');
    expect(checkOnStart(records, nowMs)).toMatchObject({ missing: [tilePictureFile('night-1', 0)], otherSize: [tilePictureFile('night-1', 1)] });
    const told = eventsOf(records);
    expect(told.join('\n')).toContain('1 recorded picture is not on the disk any more: runs/night-1/tiles/000000.webp.');
    expect(told.join('\n')).toContain('1 recorded picture has not the recorded size: runs/night-1/tiles/000001.webp.');
    checkOnStart(records, nowMs);
    expect(eventsOf(records)).toEqual(told);
  });
});
