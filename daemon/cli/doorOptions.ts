import { networkInterfaces } from 'node:os';
import type { Command } from 'commander';
import { NightjarError } from '../errors/index.ts';
import { readCertificate } from '../server/certificate.ts';
import { isLoopback } from '../server/doors.ts';
import type { ServerOptions } from '../server/index.ts';
import { readTokenFile, tokenFile } from '../server/tokenFile.ts';
import { stateFolder } from '../stateFolder.ts';
import type { CommandContext } from './context.ts';
import { printNewToken } from './token.ts';

/** How the page is opened, as it came from the command line. */
export interface DoorWords {
  readonly host: string;
  readonly name: readonly string[];
  readonly certificate?: string;
  readonly key?: string;
  readonly token?: boolean;
  readonly unencrypted?: boolean;
}

export type DoorOptions = Pick<ServerOptions, 'host' | 'names' | 'readToken' | 'tls' | 'unencrypted'>;

const DAY_MS = 86_400_000;
const SOON_DAYS = 21;
const EVERY_ADDRESS: readonly string[] = ['0.0.0.0', '::'];

/** Adds the options of the door to a command. */
export function withDoorOptions(command: Command): Command {
  const collect = (name: string, before: readonly string[]): readonly string[] => [...before, name];
  return command
    .option('--host <address>', 'address to open the page at; any but this computer\'s own needs the token and a certificate', '127.0.0.1')
    .option('--name <name>', 'what this computer is called, as in the certificate; may be repeated', collect, [])
    .option('--certificate <file>', 'certificate for TLS (PEM), with its chain')
    .option('--key <file>', 'the certificate\'s key (PEM)')
    .option('--token', 'ask for the token on this computer too')
    .option('--unencrypted', 'without a certificate, on a network that is cut off from all others: whoever listens there can take the controls');
}

/** Reads certificate and token, makes the first token, and says what needs saying. Throws `badUsage`, `needsTls`, `badCertificate` or `badTokenFile`. */
export async function openDoor(context: CommandContext, words: DoorWords): Promise<DoorOptions> {
  const { host, name: names, unencrypted = false } = words;
  const isOpen = !isLoopback(host);
  const tls = await certificateOf(context, words);
  if (isOpen && !tls && !unencrypted) throw new NightjarError('needsTls', { host });
  if (isOpen && !tls) context.errors.write(UNENCRYPTED);
  const readToken = isOpen || words.token === true ? await tokenReader(context) : undefined;
  return { host, names, unencrypted, ...(tls ? { tls } : {}), ...(readToken ? { readToken } : {}) };
}

const UNENCRYPTED = `
****************************************************************************
  WITHOUT ENCRYPTION. Whoever listens on this network can read the token,
  take the controls and move the stage. Go on only where no other computer
  is on the network; everywhere else give --certificate and --key.
****************************************************************************

`;

async function certificateOf(context: CommandContext, { name, certificate, key }: DoorWords): Promise<ServerOptions['tls']> {
  if (certificate === undefined && key === undefined) return undefined;
  if (certificate === undefined || key === undefined) throw new NightjarError('badUsage', { reason: '--certificate and --key belong together' });
  const nowMs = context.clock.now();
  const read = await readCertificate(certificate, key, name, nowMs);
  const days = Math.floor((read.untilMs - nowMs) / DAY_MS);
  if (days < SOON_DAYS) context.errors.write(`The certificate expires in ${days} ${days === 1 ? 'day' : 'days'}.\n`);
  return read;
}

async function tokenReader(context: CommandContext): Promise<NonNullable<ServerOptions['readToken']>> {
  const file = tokenFile(stateFolder(process.env));
  if (!(await readTokenFile(file))) await printNewToken(context, file);
  return () => readTokenFile(file);
}

/** Where a page that is open at every address can be reached, for a person to choose from. */
export function whereReached(url: string, words: DoorWords): string {
  if (words.name.length > 0 || !EVERY_ADDRESS.includes(words.host)) return url;
  const addresses = Object.values(networkInterfaces()).flatMap((each) => each ?? []).filter(({ internal, family }) => !internal && family === 'IPv4');
  const urls = addresses.map(({ address }) => url.replace(/\/\/(0\.0\.0\.0|\[::\])/, `//${address}`));
  return urls.length === 0 ? url : urls.join(' or ');
}
