import { randomBytes } from 'node:crypto';
import type { Secrets } from './secrets.ts';

/** The operating system's own source, the only one fit for a token or a session. Not for anything that a seed must replay. */
export const systemSecrets: Secrets = { bytes: (count) => randomBytes(count) };
