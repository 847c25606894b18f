import type { CameraList } from '../../drivers/genicam/listCameras.ts';
import type { SerialPortFound } from '../../drivers/line/ports.ts';
import type { InstrumentConfig } from '../config/index.ts';
import type { Finding } from './finding.ts';

/** What the computer says of one file, links followed. */
export interface FileFacts {
  readonly kind: 'folder' | 'characterDevice' | 'other';
  /** Numbers of the owning user and group. */
  readonly uid: number;
  readonly gid: number;
  /** Permission bits, as chmod(1) takes them. */
  readonly mode: number;
}

export interface Space {
  /** What an ordinary user may still fill. */
  readonly freeBytes: number;
  /** The file system's number, as statfs(2) lists them. */
  readonly fileSystem: number;
}

/** All that the doctor reads of the computer. What is not there and what may not be read are both `undefined`; nothing rejects. */
export interface Surroundings {
  /** Numbers of the user and of all groups that this process is in. */
  readonly user: { readonly uid: number; readonly groups: readonly number[] };
  /** Version without its `v`, and where the program is. */
  readonly node: { readonly version: string; readonly path: string };
  /** Milliseconds since 1970. */
  readonly now: () => number;
  readonly env: (name: string) => string | undefined;
  readonly readText: (path: string) => Promise<string | undefined>;
  readonly list: (folder: string) => Promise<readonly string[] | undefined>;
  /** What a symbolic link says, not followed further. */
  readonly linkTarget: (path: string) => Promise<string | undefined>;
  /** Where a path leads in the end. */
  readonly realPath: (path: string) => Promise<string | undefined>;
  readonly facts: (path: string) => Promise<FileFacts | undefined>;
  /** Whether this user may, by the computer's own judgement; the file is not opened. */
  readonly may: (what: 'readAndWrite' | 'createIn', path: string) => Promise<boolean>;
  readonly space: (folder: string) => Promise<Space | undefined>;
}

/** A serial port to look at: named in the instrument file, or only plugged in. */
export interface ExaminedPort {
  readonly port: string;
  /** Devices of the instrument file behind it; none where it is only plugged in. */
  readonly devices: readonly string[];
  /** Where it leads now; undefined where it is not there. */
  readonly device: string | undefined;
}

/** Everything that a check may look at. */
export interface Examined {
  readonly surroundings: Surroundings;
  readonly instrument: InstrumentConfig | undefined;
  /** Absolute. */
  readonly dataFolder: string;
  /** Nightjar's own package.json. */
  readonly packageFile: string;
  readonly ports: readonly ExaminedPort[];
  readonly plugged: readonly SerialPortFound[];
  readonly cameras: CameraList;
}

/** One thing to look at; may find several things, or none where there is nothing to look at. */
export type Check = (examined: Examined) => Promise<readonly Finding[]>;
