import { examine } from '../../../daemon/doctor/examine.ts';
import type { Finding } from '../../../daemon/doctor/finding.ts';
import type { FileFacts, Space, Surroundings } from '../../../daemon/doctor/surroundings.ts';
import type { InstrumentConfig } from '../../../daemon/config/index.ts';
import type { CameraList } from '../../../drivers/genicam/listCameras.ts';
import type { SerialPortFound } from '../../../drivers/line/ports.ts';
import { STAGE_PORT } from './instruments.ts';

/** A made-up computer: what is not listed is not there. */
export interface Computer {
  readonly uid: number;
  readonly groups: readonly number[];
  readonly nodeVersion: string;
  readonly nowMs: number;
  readonly env: Readonly<Record<string, string>>;
  readonly texts: Readonly<Record<string, string>>;
  readonly links: Readonly<Record<string, string>>;
  readonly facts: Readonly<Record<string, FileFacts>>;
  /** Folders that are there but may not be looked into. */
  readonly closed: readonly string[];
  /** Paths that this user may neither open nor make anything in. */
  readonly forbidden: readonly string[];
  readonly space: Space | undefined;
  readonly instrument: InstrumentConfig | undefined;
  readonly dataFolder: string;
  readonly plugged: readonly SerialPortFound[];
  readonly cameras: CameraList;
}

export const FOLDER: FileFacts = { kind: 'folder', uid: 0, gid: 0, mode: 0o755 };
/** As udev leaves a serial port on Debian: root, group 20 (dialout), rw for both. */
export const PORT: FileFacts = { kind: 'characterDevice', uid: 0, gid: 20, mode: 0o660 };

const PASSWD = 'root:x:0:0:root:/:/bin/sh\nanna:x:1000:1000:Anna,,,:/srv/anna:/bin/bash\n';
export const GROUP = 'root:x:0:\ndialout:x:20:anna\nanna:x:1000:\n';

/** A computer that is fit for a night, with one controller plugged in, of a user in the group of serial ports. */
export const fitComputer: Computer = {
  uid: 1000,
  groups: [1000, 20],
  nodeVersion: '22.12.0',
  nowMs: Date.UTC(2026, 10, 26, 20, 15),
  env: {},
  texts: {
    '/etc/passwd': PASSWD,
    '/etc/group': GROUP,
    '/app/package.json': '{ "engines": { "node": ">=20.19" } }',
    '/proc/meminfo': 'MemTotal:       16287612 kB\nMemFree:          523140 kB\nMemAvailable:   12000000 kB\n',
    '/proc/1/comm': 'systemd\n',
    '/proc/700/comm': 'bash\n',
    '/proc/self/status': 'Name:\tnode\nCapEff:\t0000000000000000\n',
    '/proc/sys/net/core/rmem_max': '212992\n',
    '/run/systemd/timesync/synchronized': '',
  },
  links: { [STAGE_PORT]: '/dev/ttyUSB0', '/etc/systemd/system/sleep.target': '/dev/null', '/proc/1/fd/0': '/dev/null', '/proc/700/fd/0': '/dev/pts/3' },
  facts: { '/dev/ttyUSB0': PORT, '/run/systemd/system': FOLDER, '/data': FOLDER, '/': FOLDER },
  closed: [],
  forbidden: [],
  space: { freeBytes: 300e9, fileSystem: 0xef53 },
  instrument: undefined,
  dataFolder: '/data',
  plugged: [{ name: STAGE_PORT, device: '/dev/ttyUSB0', isStable: true }],
  cameras: { kind: 'cameras', cameras: [] },
};

type Tables = 'texts' | 'links' | 'facts' | 'env';
type Change = Partial<Omit<Computer, Tables>> & { readonly [K in Tables]?: Readonly<Record<string, Computer[K][string] | undefined>> };

function withoutUndefined<V>(record: Readonly<Record<string, V | undefined>>): Readonly<Record<string, V>> {
  return Object.fromEntries(Object.entries(record).filter((entry): entry is [string, V] => entry[1] !== undefined));
}

/** The fit computer with changes; files, links and facts are added to its own, and taken away by `undefined`. */
function changed(change: Change): Computer {
  const texts = withoutUndefined({ ...fitComputer.texts, ...change.texts });
  const links = withoutUndefined({ ...fitComputer.links, ...change.links });
  const facts = withoutUndefined({ ...fitComputer.facts, ...change.facts });
  return { ...fitComputer, ...change, texts, links, facts, env: withoutUndefined({ ...change.env }) };
}

function surroundingsOf(computer: Computer): Surroundings {
  const { texts, links, facts, closed, forbidden } = computer;
  const paths = [...Object.keys(texts), ...Object.keys(links), ...Object.keys(facts)];
  const isClosed = (path: string): boolean => closed.some((folder) => path.startsWith(`${folder}/`));
  const hasInside = (folder: string): boolean => paths.some((path) => path.startsWith(`${folder}/`));
  const factsOf = (path: string): FileFacts | undefined => facts[path] ?? (texts[path] === undefined ? undefined : { kind: 'other', uid: 0, gid: 0, mode: 0o644 }) ?? (hasInside(path) ? FOLDER : undefined);
  return {
    user: { uid: computer.uid, groups: computer.groups },
    node: { version: computer.nodeVersion, path: '/usr/bin/node' },
    now: () => computer.nowMs,
    env: (name) => computer.env[name],
    readText: async (path) => (isClosed(path) ? undefined : texts[path]),
    list: async (folder) => (closed.includes(folder) || isClosed(folder) || !hasInside(folder) ? undefined : [...new Set(paths.filter((path) => path.startsWith(`${folder}/`)).map((path) => path.slice(folder.length + 1).split('/')[0] ?? ''))]),
    linkTarget: async (path) => (isClosed(path) ? undefined : links[path]),
    realPath: async (path) => links[path] ?? (factsOf(path) ? path : undefined),
    facts: async (path) => (isClosed(path) ? undefined : factsOf(path)),
    may: async (_, path) => factsOf(path) !== undefined && !forbidden.includes(path),
    space: async () => computer.space,
  };
}

/** What the doctor finds on the fit computer with these changes. */
export async function findingsOn(change: Change = {}): Promise<readonly Finding[]> {
  const computer = changed(change);
  const { instrument, dataFolder, cameras, plugged } = computer;
  return examine({ instrument, dataFolder, packageFile: '/app/package.json' }, surroundingsOf(computer), { cameras: async () => cameras, serialPorts: async () => plugged });
}

/** Those of one check. */
export async function findingsOf(check: string, change: Change = {}): Promise<readonly Finding[]> {
  return (await findingsOn(change)).filter((finding) => finding.check === check);
}

/** The only finding of one check. */
export async function findingOf(check: string, change: Change = {}): Promise<Finding> {
  const [first, ...others] = await findingsOf(check, change);
  if (!first || others.length > 0) throw new Error(`${others.length + (first ? 1 : 0)} findings of ${check}`);
  return first;
}

/** A computer of which nothing can be read at all. */
export async function blindFindings(instrument: InstrumentConfig | undefined): Promise<readonly Finding[]> {
  const nothing = async (): Promise<undefined> => undefined;
  const blind: Surroundings = {
    user: { uid: 1000, groups: [] },
    node: { version: '22.12.0', path: '/usr/bin/node' },
    now: () => fitComputer.nowMs,
    env: () => undefined,
    readText: nothing,
    list: nothing,
    linkTarget: nothing,
    realPath: async (path) => path,
    facts: nothing,
    may: async () => false,
    space: nothing,
  };
  const plugged = [{ name: '/dev/ttyACM0', device: '/dev/ttyACM0', isStable: false }];
  return examine({ instrument, dataFolder: '/data', packageFile: '/app/package.json' }, blind, { cameras: async () => ({ kind: 'cameras', cameras: [] }), serialPorts: async () => plugged });
}
