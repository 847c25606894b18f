import { existsSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { sentenceFor } from '../../../daemon/errors/index.ts';
import { canonicalDump, diskFreeBytes, fillDisk, openRecords, tilePictureFile, verifyRecords, writeDurably } from '../../../daemon/records/index.ts';
import type { RecordsStore } from '../../../daemon/records/index.ts';
import { chipRecord, commit, folders, runRecord, writeFile } from './samples.ts';

const { make, clear } = folders();
const opened: RecordsStore[] = [];
afterEach(() => {
  for (const records of opened.splice(0)) records.close();
  clear();
});

/** A night of three tiles with pictures. */
function night(runId: string, content = 'picture', directory = make()): RecordsStore {
  const records = openRecords(directory);
  opened.push(records);
  records.beginRun({ ...runRecord, id: runId });
  for (const tile of [0, 1, 2]) {
    const pictureFile = writeFile(directory, tilePictureFile(runId, tile), `${content} ${tile}`);
    records.commitTile(runId, { ...commit(tile), tile: { ...commit(tile).tile, pictureFile } });
  }
  return records;
}

describe('writing a file durably', () => {
  it('makes the folders, replaces what was there and leaves nothing beside it', async () => {
    const file = join(make(), 'runs', 'n', 'tiles', '000000.webp');
    await writeDurably(file, Buffer.from('first'));
    await writeDurably(file, Buffer.from('second'));
    expect(readFileSync(file, 'utf8')).toBe('second');
    expect(readdirSync(join(file, '..'))).toEqual(['000000.webp']);
  });

  it('on a full disk leaves the old file and no half of a new one', async () => {
    const file = join(make(), 'a.png');
    const disk = fillDisk(10);
    await writeDurably(file, Buffer.from('123456'), disk);
    const code = await writeDurably(file, Buffer.from('7890ab'), disk).catch((error: unknown) => sentenceFor(error).code);
    expect(code).toBe('diskFull');
    expect(readFileSync(file, 'utf8')).toBe('123456');
    expect(readdirSync(join(file, '..'))).toEqual(['a.png']);
  });

  it('says what else goes wrong', async () => {
    const blocked = join(make(), 'a-file');
    writeFileSync(blocked, '');
    const code = await writeDurably(join(blocked, 'x.png'), Buffer.from('x')).catch((error: unknown) => sentenceFor(error).code);
    expect(code).toBe('writeFailed');
  });

  it('knows how much room there is, for folders to come as well', async () => {
    const directory = make();
    const free = await diskFreeBytes(join(directory, 'not', 'there', 'yet'));
    expect(free).toBeGreaterThan(0);
    expect(Number.isInteger(free)).toBe(true);
    expect(existsSync(join(directory, 'not'))).toBe(false);
  });
});

describe('checking a data folder', () => {
  it('is content with what was recorded', async () => {
    expect(await verifyRecords(night('n1'))).toEqual({ sound: true, filesChecked: 3, rowsRead: 11, problems: [], leftovers: [], orphans: [], setAside: [], isInUse: false });
  });

  it('names what is missing, changed, half written and unknown', async () => {
    const records = night('n1');
    const at = (name: string) => join(records.directory, 'runs/n1/tiles', name);
    rmSync(at('000000.webp'));
    writeFileSync(at('000001.webp'), 'picture X');
    writeFileSync(at('000003.webp.part'), 'pict');
    writeFileSync(at('000003.webp'), 'picture 3');
    expect(await verifyRecords(records)).toEqual({
      sound: false,
      filesChecked: 3,
      rowsRead: 11,
      problems: [
        { kind: 'fileMissing', where: 'runs/n1/tiles/000000.webp', what: 'a record names it, but it is not on the disk' },
        { kind: 'fileChanged', where: 'runs/n1/tiles/000001.webp', what: 'its SHA-256 is not the one that was recorded' },
      ],
      leftovers: ['runs/n1/tiles/000003.webp.part'],
      orphans: ['runs/n1/tiles/000003.webp'],
      setAside: [],
      isInUse: false,
    });
  });

  it('a file written by halves does no harm', async () => {
    const records = night('n1');
    writeFileSync(join(records.directory, 'runs/n1/tiles/000009.webp.part'), 'pict');
    const report = await verifyRecords(records);
    expect([report.sound, report.leftovers.length]).toEqual([true, 1]);
    expect(records.tiles('n1')).toHaveLength(3);
  });
});

describe('the canonical dump', () => {
  it('is the same for the same night under another name and in another folder', () => {
    const [a, b] = [canonicalDump(night('first'), 'first'), canonicalDump(night('second'), 'second')];
    expect(a).toBe(b);
    expect(a.split('\n').filter((line) => line.startsWith('tile '))).toHaveLength(3);
  });

  it('does not depend on the order in which chips and flakes were written', () => {
    const chips = (names: readonly string[]) => {
      const records = night('n');
      for (const chip of names) records.saveChip('n', chipRecord(chip));
      return canonicalDump(records, 'n');
    };
    expect(chips(['A', 'B'])).toBe(chips(['B', 'A']));
  });

  it('differs when one byte of a picture does, one number, or one event', () => {
    const base = canonicalDump(night('n'), 'n');
    expect(canonicalDump(night('n', 'pictura'), 'n')).not.toBe(base);
    const records = night('n');
    const [flake] = records.flakes('n');
    if (flake) records.updateFlakes('n', [{ ...flake, usableUm: flake.usableUm + 1e-12 }]);
    expect(canonicalDump(records, 'n')).not.toBe(base);
    const told = night('n');
    told.addEvent('n', { atMs: 1, kind: 'x', text: 'y' });
    expect(canonicalDump(told, 'n')).not.toBe(base);
    expect(canonicalDump(told, 'n', { events: false })).toBe(canonicalDump(night('n'), 'n', { events: false }));
  });

  it('covers the files that no flake shows as its best', () => {
    const dumpWith = (content: string) => {
      const records = night('n');
      const file = writeFile(records.directory, 'runs/n/crops/000003-0-raw.png', content);
      records.commitTile('n', { ...commit(3), files: [file] });
      return canonicalDump(records, 'n');
    };
    expect(dumpWith('a')).toContain('file {"file":"crops/000003-0-raw.png","sha256":');
    expect(dumpWith('a')).not.toBe(dumpWith('b'));
  });

  it('counts times from the beginning, and only when asked', () => {
    const records = night('n');
    expect(canonicalDump(records, 'n')).not.toContain('afterMs');
    expect(canonicalDump(records, 'n', { times: true })).toContain('"afterMs":1001');
    expect(canonicalDump(records, 'none')).toBe('');
  });
});
