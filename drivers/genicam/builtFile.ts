import { existsSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

/** A compiled file, from wherever this one runs: source or build. Throws when nothing has been built. */
export function builtFile(relative: string): string {
  let folder = dirname(fileURLToPath(import.meta.url));
  while (!existsSync(join(folder, 'package.json'))) {
    const parent = dirname(folder);
    if (parent === folder) break;
    folder = parent;
  }
  const file = join(folder, '.build', relative);
  if (!existsSync(file)) throw new Error(`.build/${relative} is missing: run \`npm run build\` first`);
  return file;
}
