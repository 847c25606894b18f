import { createPrivateKey, X509Certificate } from 'node:crypto';
import { readFile, stat } from 'node:fs/promises';
import { NightjarError } from '../errors/index.ts';
import type { Certificate } from './listening.ts';

export interface CheckedCertificate extends Certificate {
  /** When it ends, ms since 1970. */
  readonly untilMs: number;
}

function bad(file: string, reason: string, cause?: unknown): NightjarError<'badCertificate'> {
  return new NightjarError('badCertificate', { file, reason }, { cause });
}

async function read(file: string): Promise<string> {
  try {
    return await readFile(file, 'utf8');
  } catch (error) {
    throw bad(file, error instanceof Error ? error.message : String(error), error);
  }
}

/** The whole group may read it where the system's own keys are kept so; nobody else may. */
async function checkPrivate(file: string): Promise<void> {
  const { mode } = await stat(file).catch((error: unknown) => {
    throw bad(file, error instanceof Error ? error.message : String(error), error);
  });
  if ((mode & 0o007) !== 0) throw bad(file, `any user of this computer may read or write the key; \`chmod o= ${file}\` mends that`);
}

function parse<T>(file: string, what: string, make: () => T): T {
  try {
    return make();
  } catch (error) {
    throw bad(file, `this is not ${what}`, error);
  }
}

/** A date as people of all countries read it. */
function day(ms: number): string {
  return new Date(ms).toISOString().slice(0, 10);
}

function checkTime(file: string, certificate: X509Certificate, nowMs: number): number {
  const [fromMs, untilMs] = [Date.parse(certificate.validFrom), Date.parse(certificate.validTo)];
  if (nowMs < fromMs) throw bad(file, `the certificate is valid only from ${day(fromMs)}; if that has passed, this computer's clock is wrong`);
  if (nowMs > untilMs) throw bad(file, `the certificate expired on ${day(untilMs)}`);
  return untilMs;
}

/**
 * Reads a certificate (its chain may follow it in the file) and its key, both PEM, and checks what browsers would complain of later:
 * time, whether the key fits, whether it covers each name, and that other users cannot read the key. Throws `badCertificate`.
 */
export async function readCertificate(certificateFile: string, keyFile: string, names: readonly string[], nowMs: number): Promise<CheckedCertificate> {
  const text = await read(certificateFile);
  const certificate = parse(certificateFile, 'a certificate in PEM', () => new X509Certificate(text));
  const untilMs = checkTime(certificateFile, certificate, nowMs);
  const uncovered = names.find((name) => certificate.checkHost(name) === undefined);
  if (uncovered !== undefined) throw bad(certificateFile, `the certificate does not cover the name ${uncovered}: it is for ${certificate.subjectAltName ?? 'no name at all'}`);
  await checkPrivate(keyFile);
  const keyText = await read(keyFile);
  const key = parse(keyFile, 'a key in PEM that can be read without a passphrase', () => createPrivateKey(keyText));
  if (!certificate.checkPrivateKey(key)) throw bad(keyFile, `this is not the key of ${certificateFile}`);
  return { certificate: text, key: keyText, untilMs };
}
