import { isAbsolute, join } from 'node:path';

/** The database of a data folder. */
export const databaseFile = 'nightjar.sqlite';
/** Held open and locked while one daemon writes to the folder. */
export const lockFile = 'nightjar.lock';
/** Ending of a file that is being written; one that is left over is half a file and belongs to no record. */
export const partEnding = '.part';

/** Folder of a run for whole files that no record names, moved out of the way at a start. */
const asideFolder = 'aside';

const runIdPattern = /^[A-Za-z0-9][A-Za-z0-9_-]{0,79}$/;

/** Whether a run's id can be the name of its folder. */
export function isRunId(id: string): boolean {
  return runIdPattern.test(id);
}

/** Folder of a run's pictures, relative to the data folder. */
export function runFolder(runId: string): string {
  if (!isRunId(runId)) throw new RangeError(`"${runId}" cannot name a folder`);
  return `runs/${runId}`;
}

/** Where a file of a run is set aside: `runs/<runId>/tiles/000012.webp` becomes `runs/<runId>/aside/tiles/000012.webp`. */
export function asideFile(runId: string, file: string): string {
  const folder = runFolder(runId);
  return `${folder}/${asideFolder}${file.slice(folder.length)}`;
}

/** Whether a file, relative to the data folder, has been set aside. */
export function isSetAside(file: string): boolean {
  const [runs, , folder] = file.split('/');
  return runs === 'runs' && folder === asideFolder;
}

/** A flake's id as part of a file name: all but letters, digits, `_` and `-` becomes `=` and its UTF-8 bytes in hex, so no two ids collide. */
function fileSafe(id: string): string {
  return id.replace(/[^A-Za-z0-9_-]/gu, (odd) => `=${Buffer.from(odd, 'utf8').toString('hex')}=`);
}

/** Map picture of a tile, relative to the data folder: `runs/<runId>/tiles/000012.webp`. */
export function tilePictureFile(runId: string, tile: number): string {
  return `${runFolder(runId)}/tiles/${String(tile).padStart(6, '0')}.webp`;
}

/** The n-th crop of a flake, relative to the data folder: `runs/<runId>/crops/<flakeId>-<n>.png`. */
export function cropFile(runId: string, flakeId: string, n: number): string {
  return `${runFolder(runId)}/crops/${fileSafe(flakeId)}-${n}.png`;
}

/** A picture of a flake at high magnification under an optical path, relative to the data folder: `runs/<runId>/closeUps/<flakeId>-<path>.png`. */
export function closeUpFile(runId: string, flakeId: string, opticalPath: string, kind: 'shown' | 'raw'): string {
  return `${runFolder(runId)}/closeUps/${fileSafe(flakeId)}-${fileSafe(opticalPath)}${kind === 'raw' ? '-raw' : ''}.png`;
}

/** Where a file of the records lies on disk; undefined for a name that would lead out of the data folder. */
export function absoluteFile(directory: string, name: string): string | undefined {
  const odd = name === '' || isAbsolute(name) || /[\\\0]/.test(name) || name.split('/').some((part) => part === '' || part === '.' || part === '..');
  return odd ? undefined : join(directory, name);
}
