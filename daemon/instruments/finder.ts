import type { CameraList } from '../../drivers/genicam/listCameras.ts';
import type { SerialPortFound } from '../../drivers/line/ports.ts';

/** What came of a connection that was only tried: `ok`, or the reason why not. */
export type Reach = { readonly ok: true } | { readonly ok: false; readonly reason: string };

/** How things are looked for. Nothing of it sends anything to a controller or opens a serial port: many reset themselves when one does. */
export interface Finder {
  /** GenICam cameras that answer now. */
  cameras(): Promise<CameraList>;
  /** USB serial ports by stable name. */
  serialPorts(): Promise<readonly SerialPortFound[]>;
  /** The device that a path leads to, links followed; undefined where there is none. */
  deviceAt(path: string): Promise<string | undefined>;
  /** Whether somebody takes a TCP connection there; it is ended at once. */
  reach(host: string, tcpPort: number): Promise<Reach>;
  /** Where the system finds a program of this name, or the path itself where it leads to one; undefined where there is none. */
  programAt(name: string): Promise<string | undefined>;
}
