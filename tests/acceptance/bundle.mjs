import { fileURLToPath, pathToFileURL } from 'node:url';
import { build } from 'esbuild';

// What runs outside vitest and is TypeScript that no build compiles: bundled into the build folder, where its packages and the built workers are found.

/** Where a bundle of this name lies. */
export const bundleFile = (name) => fileURLToPath(new URL(`../../.build/${name}.mjs`, import.meta.url));

/** Bundles what begins at this URL. */
export async function makeBundle(name, entry, more = {}) {
  await build({ entryPoints: [fileURLToPath(entry)], outfile: bundleFile(name), bundle: true, platform: 'node', format: 'esm', packages: 'external', logLevel: 'warning', ...more });
}

/** What a bundle exports. */
export const openBundle = (name) => import(pathToFileURL(bundleFile(name)).href);

/** Bundles what begins at this URL, and hands out what it exports. */
export async function loadBundle(name, entry) {
  await makeBundle(name, entry);
  return openBundle(name);
}
