import type { Clock } from '../../drivers/interfaces/index.ts';
import { parsePeople } from '../config/load.ts';
import type { People } from '../config/people.ts';
import { readSource } from '../config/readSource.ts';
import { NightjarError, type ConfigProblem } from '../errors/index.ts';
import { mailChannel } from './mail.ts';
import { readSecret, type SecretPlace } from './secrets.ts';
import type { Channel } from './types.ts';
import { webhookChannel } from './webhook.ts';

/** Who is told, with every password and key at hand, and how each is reached. */
export interface OpenedPeople {
  readonly people: People;
  readonly channels: readonly Channel[];
}

export interface PeopleSurroundings {
  readonly clock: Clock;
  readonly environment: Readonly<Record<string, string | undefined>>;
}

/**
 * Reads the file of people to tell and the secrets that it names; sends nothing. Throws `noSuchFile`, `unreadableFile`, or `badConfig` with the line of
 * what is wrong, a secret that others may read among it: before the night, when a person is still there to mend it.
 */
export async function openPeople(file: string, { clock, environment }: PeopleSurroundings): Promise<OpenedPeople> {
  const { people, lineOf } = parsePeople((await readSource(file)).text, file);
  const problems: ConfigProblem[] = [];
  const secretOf = async (place: SecretPlace, path: readonly (string | number)[], key: string): Promise<string | undefined> => {
    if (place.variable === undefined && place.file === undefined) return undefined;
    const result = await readSecret(place, environment, file);
    if (result.ok) return result.secret;
    problems.push({ line: lineOf(path), key, message: result.problem });
    return undefined;
  };
  const channels: Channel[] = [];
  const { mail, webhooks } = people;
  if (mail) {
    const { passwordVariable: variable, passwordFile } = mail.server;
    const name = variable === undefined ? 'passwordFile' : 'passwordVariable';
    const password = await secretOf({ variable, file: passwordFile }, ['mail', 'server', name], `mail.server.${name}`);
    channels.push(...mail.to.map((to) => mailChannel(mail, to, password, clock)));
  }
  for (const [n, webhook] of webhooks.entries()) {
    const { secretVariable: variable, secretFile } = webhook;
    const name = variable === undefined ? 'secretFile' : 'secretVariable';
    channels.push(webhookChannel(webhook, await secretOf({ variable, file: secretFile }, ['webhooks', n, name], `webhooks[${n}].${name}`), clock));
  }
  if (problems.length > 0) throw new NightjarError('badConfig', { file, problems });
  return { people, channels };
}
