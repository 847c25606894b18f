import { mkdir, open, rename, rm, stat } from 'node:fs/promises';

/** An open file, as far as writing durably needs it. */
export interface OpenFile {
  writeFile(bytes: Uint8Array): Promise<void>;
  /** Resolves when everything written so far is on the disk; of a folder, its entries. */
  sync(): Promise<void>;
  close(): Promise<void>;
}

/** The steps on a disk that writing durably is made of. Handed in, so that a power cut between any two of them can be rehearsed. */
export interface DurableFiles {
  /** `w` makes or empties a file, `r` opens a folder to sync it. */
  open(path: string, flags: 'w' | 'r'): Promise<OpenFile>;
  exists(path: string): Promise<boolean>;
  /** One folder, whose parent is there; nothing when it is there itself. */
  makeFolder(path: string): Promise<void>;
  rename(from: string, to: string): Promise<void>;
  /** Nothing when it is not there. */
  remove(path: string): Promise<void>;
}

function codeOf(error: unknown): unknown {
  return error instanceof Error && 'code' in error ? error.code : undefined;
}

/** The computer's own disk. */
export const systemFiles: DurableFiles = {
  open,
  exists: (path) => stat(path).then(() => true, () => false),
  makeFolder: (path) =>
    mkdir(path).catch((error: unknown) => {
      if (codeOf(error) !== 'EEXIST') throw error;
    }),
  rename,
  remove: (path) => rm(path, { force: true }),
};
