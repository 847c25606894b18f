import { sentenceFor } from '../errors/index.ts';
import { advice, cannotBeTold, ok, toMend, type Finding } from './finding.ts';
import type { Examined } from './surroundings.ts';

const NODE = 'Node';
const LIBRARY = 'camera library';

type Version = readonly [number, number, number];

function versionIn(text: string): Version | undefined {
  const [, major, minor = '0', patch = '0'] = /(\d+)(?:\.(\d+))?(?:\.(\d+))?/.exec(text) ?? [];
  return major === undefined ? undefined : [Number(major), Number(minor), Number(patch)];
}

function isAtLeast(version: Version, least: Version): boolean {
  const at = version.findIndex((number, index) => number !== least[index]);
  return at === -1 || (version[at] ?? 0) > (least[at] ?? 0);
}

/** `engines.node` of a package.json. */
function nodeWanted(packageText: string): string | undefined {
  try {
    const read = JSON.parse(packageText) as { readonly engines?: { readonly node?: unknown } } | null;
    return typeof read?.engines?.node === 'string' ? read.engines.node : undefined;
  } catch (error) {
    if (error instanceof SyntaxError) return undefined;
    throw error;
  }
}

/** Whether Node is as new as package.json wants it. */
export async function checkNode({ surroundings: { node, readText }, packageFile }: Examined): Promise<readonly Finding[]> {
  const wanted = nodeWanted((await readText(packageFile)) ?? '');
  const least = wanted === undefined || !/^>=\s*[\d.]+$/.test(wanted) ? undefined : versionIn(wanted);
  const version = versionIn(node.version);
  if (!least || !version) return [cannotBeTold(NODE, `${node.version}; what is needed cannot be read from package.json`)];
  const seen = `${node.version}, ${least.slice(0, 2).join('.')} or later is needed`;
  return isAtLeast(version, least) ? [ok(NODE, seen)] : [toMend(NODE, seen, `install Node.js ${least.join('.')} or later, then run npm ci again`)];
}

/** Whether the library for GenICam cameras can be loaded: needed only by an instrument that asks for such a camera. */
export async function checkCameraLibrary({ instrument, cameras }: Examined): Promise<readonly Finding[]> {
  const isNeeded = instrument?.camera.driver === 'genicam';
  switch (cameras.kind) {
    case 'cameras':
      return [ok(LIBRARY, `can be loaded; ${cameras.cameras.length === 0 ? 'no camera answers' : `cameras that answer: ${cameras.cameras.map(({ id }) => id).join(', ')}`}`)];
    case 'libraryMissing': {
      const mend = `sudo apt-get install ${cameras.debianPackage}`;
      const seen = `${cameras.library} cannot be loaded`;
      return [isNeeded ? toMend(LIBRARY, `${seen}; the camera of the instrument file needs it`, mend) : advice(LIBRARY, `${seen}; it is needed for GenICam cameras alone`, mend)];
    }
    case 'failed':
      return [cannotBeTold(LIBRARY, `looking for cameras failed: ${sentenceFor(cameras.error).happened}`, 'nightjar instruments')];
  }
}
