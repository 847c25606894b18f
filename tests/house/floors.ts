import { targetOf } from './imports.ts';
import type { ImportUse } from './imports.ts';
import type { Offence } from './sources.ts';

const OPENER = 'daemon/instrument/open.ts';
const MESSAGES = 'daemon/server/messages.ts';

/** Packages that have one home each, and what to do instead elsewhere. */
const homes: readonly { readonly names: RegExp; readonly under: readonly string[]; readonly instead: string }[] = [
  { names: /^rxjs(\/|$)/, under: ['daemon/run/', 'daemon/pipeline/'], instead: 'keep streams in daemon/run or daemon/pipeline, and hand out promises or callbacks' },
  { names: /^better-sqlite3$/, under: ['daemon/records/'], instead: 'ask the Records interface of daemon/records' },
  { names: /^serialport$/, under: ['drivers/line/'], instead: 'open a Wire of drivers/line' },
  { names: /^koffi$/, under: ['drivers/genicam/', 'simulators/farEnd/'], instead: 'keep calls of the library in drivers/genicam' },
  { names: /^nodemailer$/, under: ['daemon/telling/'], instead: 'hand tidings to the Teller of daemon/telling' },
  { names: /^(node:)?(http|https|http2)$|^ws$/, under: ['daemon/server/'], instead: 'ask daemon/server' },
];

const startsWithOneOf = (path: string, folders: readonly string[]): boolean => folders.some((folder) => path.startsWith(folder));

/** Folders that each floor may import from. `daemon/` and `ui/` have one exception each, below. */
const below: Readonly<Record<string, readonly string[]>> = {
  planner: ['planner/'],
  drivers: ['drivers/', 'planner/units/'],
  simulators: ['simulators/', 'drivers/interfaces/', 'planner/'],
  daemon: ['daemon/', 'drivers/', 'planner/'],
  ui: ['ui/', 'planner/'],
};

function houseBreach(use: ImportUse, target: string): string | undefined {
  const floor = use.from.split('/')[0] ?? '';
  const allowed = below[floor];
  if (!allowed || startsWithOneOf(target, allowed)) return undefined;
  if (use.from === OPENER && target.startsWith('simulators/')) return undefined;
  if (floor === 'ui' && target === MESSAGES) {
    return use.typeOnly ? undefined : `ui takes only types from ${MESSAGES}: write "import type"`;
  }
  return `${floor} may import only ${allowed.join(', ')}, not ${target}: move the shared piece down a floor or pass it in`;
}

function packageBreach(use: ImportUse): string | undefined {
  const floor = use.from.split('/')[0] ?? '';
  if (floor === 'planner') return `planner is pure and imports no package, not ${use.specifier}: pass the result in`;
  if (floor === 'ui' && use.specifier.startsWith('node:')) return `ui runs in a browser: no ${use.specifier}`;
  const home = below[floor] ? homes.find(({ names }) => names.test(use.specifier)) : undefined;
  if (!home || startsWithOneOf(use.from, home.under)) return undefined;
  return `${use.specifier} belongs to ${home.under.join(' or ')}: ${home.instead}`;
}

/** Drivers that open a device: whoever holds what they give has gone round the safety gate. */
const openers = /^drivers\/(gcode|genicam|described|rawVideo|byHand|line)\//;
/** The opener puts the gate round; `nightjar describe --try` talks to a device that no gate could know, asks before each step, and says so. */
const mayOpen: readonly string[] = ['drivers/', 'daemon/instrument/', 'daemon/describe/'];
/** What only looks at what is there, and opens nothing. */
const lookers: ReadonlySet<string> = new Set(['drivers/line/ports.ts', 'drivers/genicam/listCameras.ts']);

/** What lies behind the opener hands out devices without the gate. */
const isBehindOpener = (target: string): boolean => target.startsWith('daemon/instrument/') && target !== OPENER;

function gateBreach(use: ImportUse, target: string): string | undefined {
  if (isBehindOpener(target) && !use.typeOnly && !startsWithOneOf(use.from, ['daemon/instrument/', 'tests/'])) return `${target} lies behind the safety gate: ask ${OPENER}`;
  if (!openers.test(target) || use.typeOnly || lookers.has(target) || startsWithOneOf(use.from, [...mayOpen, 'tests/', 'simulators/'])) return undefined;
  return `${target} opens a device without the safety gate: ask daemon/instrument/open.ts`;
}

const SECRETS = 'daemon/server/systemSecrets.ts';

/** Secrets are passed in from where the program begins, like the clock: nothing else may fetch them for itself. */
function secretsBreach(use: ImportUse, target: string): string | undefined {
  if (target !== SECRETS || use.from === 'daemon/cli/main.ts' || use.from.startsWith('tests/')) return undefined;
  return `${SECRETS} is for daemon/cli/main.ts alone: take Secrets as an argument`;
}

/** Imports that run upwards or reach for a package away from its home. Files outside the five floors, and what only build tools read, may import anything. */
export function floorOffences(uses: readonly ImportUse[], known: ReadonlySet<string>): readonly Offence[] {
  return uses.flatMap((use) => {
    if (/\.config\.ts$/.test(use.from)) return [];
    const target = targetOf(use, known);
    const what = target === undefined ? packageBreach(use) : (houseBreach(use, target) ?? gateBreach(use, target) ?? secretsBreach(use, target));
    return what === undefined ? [] : [{ path: use.from, line: use.line, what }];
  });
}
