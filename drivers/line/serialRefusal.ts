import { readFile, stat } from 'node:fs/promises';
import { DriverError, type ErrorDetails } from '../interfaces/index.ts';
import { listSerialPorts, type PortFolders } from './ports.ts';

/** Named in an error at most; a longer list helps nobody. */
const MOST_NAMED = 6;

/** The group that owns a device, by the computer's own list (group(5)); its number where that has no name. */
async function groupOf(path: string): Promise<string> {
  const { gid } = await stat(path);
  const groups = await readFile('/etc/group', 'utf8').catch(() => '');
  const entry = groups.split('\n').map((line) => line.split(':')).find(([, , number]) => number === String(gid));
  return entry?.[0] ?? String(gid);
}

/** There is no such port: says which there are. */
export async function noSuchPort(about: ErrorDetails, folders: PortFolders, reason?: string): Promise<DriverError> {
  const names = (await listSerialPorts(folders)).map(({ name }) => name);
  const known = names.length === 0 ? 'none' : names.slice(0, MOST_NAMED).join(', ');
  return new DriverError('noSuchLine', { ...about, ...(reason === undefined ? {} : { reason }), known });
}

/**
 * The library's refusal to open a port, in the words of a line. It has no codes, only the C library's English texts (strerror(3)):
 * "Permission denied", "Cannot lock port" where another program has the port, "No such file or directory".
 */
export async function openRefusal(error: Error, path: string, about: ErrorDetails, folders: PortFolders): Promise<DriverError> {
  const reason = error.message;
  if (/lock port|busy/i.test(reason)) return new DriverError('lineBusy', about, { cause: error });
  if (/permission denied|not permitted/i.test(reason)) {
    const group = await groupOf(path).catch(() => 'unknown');
    return new DriverError('noAccess', { ...about, group }, { cause: error });
  }
  if (/no such file|no such device/i.test(reason)) return noSuchPort(about, folders);
  if (/inappropriate ioctl/i.test(reason)) return noSuchPort(about, folders, 'it is no serial port');
  return noSuchPort(about, folders, /baud/i.test(reason) ? 'it cannot have this baud rate' : reason);
}
