import { open } from 'node:fs/promises';
import { dirname, resolve } from 'node:path';

/** Where a secret is; both names come from people.yaml. */
export interface SecretPlace {
  readonly variable: string | undefined;
  readonly file: string | undefined;
}

export type SecretResult = { readonly ok: true; readonly secret: string } | { readonly ok: false; readonly problem: string };

const longestBytes = 4096;
/** Permission bits of group and others (POSIX). */
const notTheOwners = 0o077;

/**
 * Reads a password or key. A file must be readable by its owner only: the refusal says how to mend it. The problem never holds what was read.
 * @param peopleFile the file that names it; names of files are relative to its folder
 */
export async function readSecret(place: SecretPlace, environment: Readonly<Record<string, string | undefined>>, peopleFile: string): Promise<SecretResult> {
  if (place.variable !== undefined) return fromText(environment[place.variable], `the environment variable ${place.variable}`);
  if (place.file === undefined) return { ok: false, problem: 'no place for the secret is named' };
  return fromFile(resolve(dirname(peopleFile), place.file));
}

/** The open file is looked at, so that nobody can put another one in its place between the look and the reading. */
async function fromFile(path: string): Promise<SecretResult> {
  try {
    const file = await open(path, 'r');
    try {
      const { mode, size } = await file.stat();
      if ((mode & notTheOwners) !== 0) return { ok: false, problem: `${path} may be read by others than its owner; run: chmod 600 ${quoted(path)}` };
      if (size > longestBytes) return { ok: false, problem: `${path} is larger than ${longestBytes} bytes, which no password is` };
      return fromText(await file.readFile('utf8'), path);
    } finally {
      await file.close();
    }
  } catch (error) {
    return { ok: false, problem: `${path} cannot be read: ${error instanceof Error ? error.message : String(error)}` };
  }
}

/** A last line break is an editor's, not the password's. */
function fromText(text: string | undefined, place: string): SecretResult {
  const secret = text?.replace(/\r?\n$/, '');
  if (secret === undefined) return { ok: false, problem: `${place} is not set` };
  if (secret === '') return { ok: false, problem: `${place} is empty` };
  return /[\r\n\0]/.test(secret) ? { ok: false, problem: `${place} holds more than one line` } : { ok: true, secret };
}

/** A path as a shell takes it for one word. */
function quoted(path: string): string {
  return /^[\w./-]+$/.test(path) ? path : `'${path.replaceAll("'", "'\\''")}'`;
}
