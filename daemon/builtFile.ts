import { existsSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

/** The folder that holds Nightjar's package.json, whether this module runs from its source or from `.build/`. */
export const packageRoot: string = findRoot(dirname(fileURLToPath(import.meta.url)));

/** Absolute path of a built file, e.g. `daemon/classify/worker.js`: worker threads and the page need JavaScript on disk. */
export function builtFile(relative: string): string {
  return join(packageRoot, '.build', relative);
}

/** Absolute path of a file that is kept as it is in the source tree, e.g. `daemon/demo/instrument.yaml`. */
export function sourceFile(relative: string): string {
  return join(packageRoot, relative);
}

function findRoot(from: string): string {
  let folder = from;
  while (!existsSync(join(folder, 'package.json'))) {
    const parent = dirname(folder);
    if (parent === folder) throw new Error(`no package.json above ${from}`);
    folder = parent;
  }
  return folder;
}
