import { mkdir, open, rename, rm } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { NightjarError } from '../errors/index.ts';
import { makeToken, recordOf, tokenRecordSchema } from './token.ts';
import type { TokenRecord } from './token.ts';
import type { Secrets } from './secrets.ts';

const MOST_BYTES = 4096;
/** Others of this computer may neither read nor write it. */
const PRIVATE = 0o600;
const OTHERS = 0o077;

/** Where the token's digest is kept, in a folder of this user's own: never beside the records, which are copied and handed on. */
export function tokenFile(stateFolder: string): string {
  return join(stateFolder, 'door-token.json');
}

/** What is kept of the token; `undefined` when none was made. Throws `badTokenFile` when the file is not what Nightjar wrote, or others may read it. */
export async function readTokenFile(file: string): Promise<TokenRecord | undefined> {
  const handle = await open(file, 'r').catch((error: NodeJS.ErrnoException) => {
    if (error.code === 'ENOENT') return undefined;
    throw new NightjarError('badTokenFile', { file, reason: error.message });
  });
  if (!handle) return undefined;
  try {
    const { mode, size } = await handle.stat();
    if ((mode & OTHERS) !== 0) throw new NightjarError('badTokenFile', { file, reason: `other users of this computer may read or write it; \`chmod 600 ${file}\` mends that` });
    if (size > MOST_BYTES) throw new NightjarError('badTokenFile', { file, reason: 'it is too long' });
    return understand(file, await handle.readFile('utf8'));
  } finally {
    await handle.close();
  }
}

function understand(file: string, text: string): TokenRecord {
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch {
    throw new NightjarError('badTokenFile', { file, reason: 'it is not JSON' });
  }
  const read = tokenRecordSchema.safeParse(value);
  if (!read.success) throw new NightjarError('badTokenFile', { file, reason: read.error.issues.map((issue) => `${issue.path.join('.')}: ${issue.message}`).join('; ') });
  return read.data;
}

/** Makes a new token, keeps its digest in place of the one before, and returns it: the only time that it can be seen. */
export async function makeTokenFile(file: string, secrets: Secrets, nowMs: number): Promise<string> {
  const token = makeToken(secrets);
  const record = await recordOf(token, secrets, nowMs);
  const part = `${file}.new`;
  await mkdir(dirname(file), { recursive: true, mode: 0o700 });
  await rm(part, { force: true });
  // `wx` follows no link that somebody laid there.
  const handle = await open(part, 'wx', PRIVATE);
  try {
    await handle.writeFile(`${JSON.stringify(record)}\n`);
    await handle.sync();
  } finally {
    await handle.close();
  }
  await rename(part, file);
  return token;
}
