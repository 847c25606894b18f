import { constants } from 'node:fs';
import { access, readdir, readFile, readlink, realpath, stat, statfs } from 'node:fs/promises';
import type { Clock } from '../../drivers/interfaces/index.ts';
import type { FileFacts, Surroundings } from './surroundings.ts';

const rights = { readAndWrite: constants.R_OK | constants.W_OK, createIn: constants.W_OK | constants.X_OK };

/** What cannot be read is not known, whatever the reason. */
async function orUndefined<T>(reading: Promise<T>): Promise<T | undefined> {
  return reading.catch(() => undefined);
}

async function factsOf(path: string): Promise<FileFacts> {
  const found = await stat(path);
  const kind = found.isDirectory() ? 'folder' : found.isCharacterDevice() ? 'characterDevice' : 'other';
  return { kind, uid: found.uid, gid: found.gid, mode: found.mode & 0o7777 };
}

async function spaceOf(folder: string): Promise<{ freeBytes: number; fileSystem: number }> {
  const { bavail, bsize, type } = await statfs(folder);
  return { freeBytes: bavail * bsize, fileSystem: type };
}

/** This computer, read only. Linux alone has users' numbers and `/proc` in this way. */
export function createSystemSurroundings(clock: Clock): Surroundings {
  const uid = process.geteuid?.() ?? 0;
  return {
    user: { uid, groups: [process.getegid?.() ?? 0, ...(process.getgroups?.() ?? [])] },
    node: { version: process.versions.node, path: process.execPath },
    now: () => clock.now(),
    env: (name) => process.env[name],
    readText: (path) => orUndefined(readFile(path, 'utf8')),
    list: (folder) => orUndefined(readdir(folder)),
    linkTarget: (path) => orUndefined(readlink(path)),
    realPath: (path) => orUndefined(realpath(path)),
    facts: (path) => orUndefined(factsOf(path)),
    may: (what, path) => access(path, rights[what]).then(() => true, () => false),
    space: (folder) => orUndefined(spaceOf(folder)),
  };
}
