import { AsyncLocalStorage } from 'node:async_hooks';
import { describe, expect, it } from 'vitest';
import { durableWriter } from '../../../daemon/records/writeDurably.ts';
import type { DurableFiles } from '../../../daemon/records/durableFiles.ts';
import { TornDisk } from '../../support/tornDisk.ts';

/**
 * Protects: whatever the power cut leaves of the disk, a picture whose writing had resolved (so that a record may name it) is there whole,
 * and one that had not is never there by halves. The disk's promises and their sources stand in tests/support/tornDisk.ts.
 */

const bytesOf = (text: string): Uint8Array => Buffer.from(text);
const hex = (text: string): string => Buffer.from(text).toString('hex');
const folder = '/data/runs/n/tiles';

/** A disk with the data folder on it, durably. */
function freshDisk(): TornDisk {
  const disk = new TornDisk(4);
  disk.folder('/data');
  disk.sync('/');
  return disk;
}

/** Calls `look` before and after each step on the disk. */
function watched(disk: TornDisk, look: () => void): DurableFiles {
  const seen = async <T>(step: Promise<T>): Promise<T> => {
    look();
    const result = await step;
    look();
    return result;
  };
  return {
    exists: (path) => seen(disk.exists(path)),
    makeFolder: (path) => seen(disk.makeFolder(path)),
    rename: (from, to) => seen(disk.rename(from, to)),
    remove: (path) => seen(disk.remove(path)),
    open: async (path, flags) => {
      const file = await seen(disk.open(path, flags));
      return { writeFile: (bytes) => seen(file.writeFile(bytes)), sync: () => seen(file.sync()), close: () => seen(file.close()) };
    },
  };
}

/** Writes one file after the other and names every state of the disk that breaks the promise. */
async function breaches(change: (files: DurableFiles) => DurableFiles, texts: readonly string[]): Promise<string[]> {
  const disk = freshDisk();
  const found: string[] = [];
  const path = `${folder}/a`;
  let durable = 'absent';
  let next = 'absent';
  const look = (): void => {
    for (const outcome of disk.outcomesOf(path)) if (outcome !== durable && outcome !== next) found.push(`${outcome} where ${durable} was, and ${next} was to be`);
  };
  const write = durableWriter(change(watched(disk, look)));
  for (const text of texts) {
    next = hex(text);
    await write(path, bytesOf(text));
    durable = next;
    look();
  }
  return found;
}

const same = (files: DurableFiles): DurableFiles => files;
/** A writer that leaves out the sync of files, or that of folders. */
const without = (left: 'w' | 'r') => (files: DurableFiles): DurableFiles => ({
  ...files,
  open: async (path, flags) => {
    const file = await files.open(path, flags);
    return flags === left ? { ...file, sync: () => Promise.resolve() } : file;
  },
});
const inPlace = (files: DurableFiles): DurableFiles => ({ ...files, open: (path, flags) => files.open(path.replace(/\.part$/, ''), flags), rename: () => Promise.resolve() });
const foldersUnsynced = (files: DurableFiles): DurableFiles => ({ ...files, open: (path, flags) => (path === folder || flags === 'w' ? files.open(path, flags) : Promise.resolve({ writeFile: () => Promise.resolve(), sync: () => Promise.resolve(), close: () => Promise.resolve() })) });

describe('a power cut while a file is written', () => {
  it('leaves the old content or the new one, and after the end only the new one', async () => {
    expect(await breaches(same, ['a picture', 'another, longer'])).toEqual([]);
  });

  it.each([
    ['the file is not synced', without('w')],
    ['the folder is not synced', without('r')],
    ['folders above are not synced', foldersUnsynced],
    ['it is written in place', inPlace],
  ])('is seen to do harm when %s', async (_, change) => {
    expect(await breaches(change, ['a picture', 'another, longer'])).not.toEqual([]);
  });
});

const names = ['/data/runs/n/tiles/1', '/data/runs/n/tiles/2', '/data/runs/n/crops/1', '/data/runs/n/frames/1'];

/** Who takes a step on the disk. */
const who = new AsyncLocalStorage<string>();

/** A disk on which the steps of `slow` stand still once so many of them are done, until `goOn` is called. */
function stalling(disk: TornDisk, slow: string, stepsBefore: number): { readonly files: DurableFiles; readonly goOn: () => void } {
  let left = stepsBefore;
  let goOn: () => void = () => undefined;
  const released = new Promise<void>((resolve) => (goOn = resolve));
  const step = async <T>(work: () => Promise<T>): Promise<T> => {
    if (who.getStore() === slow && left-- <= 0) await released;
    return work();
  };
  const files: DurableFiles = {
    exists: (path) => step(() => disk.exists(path)),
    makeFolder: (path) => step(() => disk.makeFolder(path)),
    rename: (from, to) => step(() => disk.rename(from, to)),
    remove: (path) => step(() => disk.remove(path)),
    open: async (path, flags) => {
      const file = await step(() => disk.open(path, flags));
      return { ...file, writeFile: (bytes) => step(() => file.writeFile(bytes)), sync: () => step(() => file.sync()) };
    },
  };
  return { files, goOn };
}

/** Lets everything go on that waits for nothing from outside. */
async function settle(): Promise<void> {
  for (let turn = 0; turn < 400; turn++) await Promise.resolve();
}

/** Begins the slow one, which stands still after so many steps, then the others. Every one that is written must be there then, and all at the end. */
async function writeWithOneSlow(slow: string, stepsBefore: number): Promise<void> {
  const disk = freshDisk();
  const { files, goOn } = stalling(disk, slow, stepsBefore);
  const write = durableWriter(files);
  const written: string[] = [];
  const begin = (name: string): Promise<unknown> => who.run(name, () => write(name, bytesOf(name)).then(() => written.push(name)));
  const first = begin(slow);
  await settle();
  const all = [first, ...names.filter((name) => name !== slow).map(begin)];
  await settle();
  for (const name of written) expect([...disk.outcomesOf(name)], `${name} while ${slow} stands still after ${stepsBefore} steps`).toEqual([hex(name)]);
  goOn();
  await Promise.all(all);
  for (const name of names) expect([...disk.outcomesOf(name)]).toEqual([hex(name)]);
}

describe('a power cut while several files are written at a time', () => {
  it('leaves each that is written, also in folders that a slower one is still making', async () => {
    for (const slow of names) for (let steps = 0; steps < 20; steps++) await writeWithOneSlow(slow, steps);
  });

  it('after a kill anywhere: what the next process writes is there once its start has synced the folders', async () => {
    const path = `${folder}/a`;
    let lostWithout = 0;
    for (let steps = 0; steps < 20; steps++) {
      const disk = freshDisk();
      let left = steps;
      const killed = watched(disk, () => undefined);
      const dying = new Proxy(killed, { get: (target, key: keyof DurableFiles) => (left-- > 0 ? target[key] : () => new Promise(() => undefined)) });
      void durableWriter(dying)(path, bytesOf('killed'));
      for (let turn = 0; turn < 200; turn++) await Promise.resolve();
      const next = durableWriter(disk);
      await next(path, bytesOf('next'));
      if ([...disk.outcomesOf(path)].join() !== hex('next')) lostWithout++;
      for (const each of ['/data', '/data/runs', '/data/runs/n', folder]) disk.sync(each);
      await next(`${folder}/b`, bytesOf('after'));
      expect([...disk.outcomesOf(`${folder}/b`)]).toEqual([hex('after')]);
    }
    // Without the sync at the start some of these would be lost: that is why it is there.
    expect(lostWithout).toBeGreaterThan(0);
  });
});
