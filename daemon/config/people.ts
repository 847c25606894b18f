import { z } from 'zod';
import type { PlacedProblem } from './schemaProblems.ts';
import type { Path } from './yamlSource.ts';

/** What a person may be told of. `fault`: something that a person should look at while the night goes on; see daemon/telling/faultWatch.ts. */
export const occasions = ['finished', 'parked', 'failed', 'fault', 'morning'] as const;
export type Occasion = (typeof occasions)[number];

const about = z.array(z.enum(occasions)).min(1).max(occasions.length).describe('what to tell of; everything when left out').default([...occasions]);
const variable = z.string().regex(/^[A-Za-z_][A-Za-z0-9_]{0,99}$/, 'be the name of an environment variable');
const secretFile = z.string().min(1).max(500);

/** No spaces, no angle brackets, no line breaks: it stands in a header and in a command to the mail server. */
const address = z
  .string()
  .max(254)
  .refine((text) => /^[A-Za-z0-9!#$%&'*+/=?^_`{|}~.-]{1,64}@[A-Za-z0-9](?:[A-Za-z0-9.-]*[A-Za-z0-9])?$/.test(text), 'be one plain address, like name@example.org');

function isWebAddress(text: string): boolean {
  if (!URL.canParse(text)) return false;
  const { protocol, username, password } = new URL(text);
  return (protocol === 'http:' || protocol === 'https:') && username === '' && password === '';
}

const webAddress = z.string().max(2000).refine(isWebAddress, 'be an http or https address without a user name in it');

const mail = z.strictObject({
  server: z.strictObject({
    host: z.string().min(1).max(253),
    port: z.number().int().min(1).max(65_535).describe('usually 587 for startTls and 465 for tls').default(587),
    security: z.enum(['startTls', 'tls', 'none']).describe('none only to a server on this computer, or without a user').default('startTls'),
    user: z.string().min(1).max(200).describe('with it a password; none for a server that wants none').optional(),
    passwordVariable: variable.describe('the environment variable that holds the password').optional(),
    passwordFile: secretFile.describe('a file that holds the password and that only its owner may read').optional(),
  }),
  from: address,
  to: z.array(z.strictObject({ address, about })).min(1).max(20),
});

const webhook = z.strictObject({
  name: z.string().min(1).max(40).describe('what it is called in messages: its address may be a secret itself'),
  url: webAddress,
  about,
  secretVariable: variable.describe('the environment variable that holds the key of the signature').optional(),
  secretFile: secretFile.describe('a file that holds the key of the signature and that only its owner may read').optional(),
});

/** The schema of `people.yaml`: who is told of a night. It is never kept in the records, and holds no password itself. */
export const peopleSchema = z.strictObject({
  page: webAddress.describe('address of the page as these people reach it; the one that is printed when left out').optional(),
  morningAt: z
    .string()
    .regex(/^([01]\d|2[0-3]):[0-5]\d$/, 'be a time of day in quotes, like "06:30"')
    .describe('when the morning summary is sent by `nightjar serve`; at the end of the night when left out')
    .optional(),
  pictures: z.number().int().min(0).max(12).describe('pictures of the best flakes in the summary').default(6),
  mail: mail.optional(),
  webhooks: z.array(webhook).max(10).default([]),
});

export type People = z.infer<typeof peopleSchema>;
export type MailSettings = NonNullable<People['mail']>;
export type WebhookSettings = People['webhooks'][number];

const loopback = /^(localhost|127(\.\d{1,3}){3}|::1)$/;

function secretProblems(at: Path, variableKey: string, given: { readonly variable: string | undefined; readonly file: string | undefined }, fileKey: string): PlacedProblem[] {
  return given.variable !== undefined && given.file !== undefined ? [{ path: [...at, fileKey], message: `give either ${variableKey} or ${fileKey}, not both` }] : [];
}

function mailProblems({ server }: MailSettings): PlacedProblem[] {
  const at = ['mail', 'server'];
  const { host, security, user, passwordVariable, passwordFile } = server;
  const hasPassword = passwordVariable !== undefined || passwordFile !== undefined;
  return [
    ...secretProblems(at, 'passwordVariable', { variable: passwordVariable, file: passwordFile }, 'passwordFile'),
    ...(user !== undefined && !hasPassword ? [{ path: [...at, 'user'], message: 'a user needs passwordVariable or passwordFile beside it' }] : []),
    ...(user === undefined && hasPassword ? [{ path: at, message: 'a password needs a user beside it' }] : []),
    ...(security === 'none' && user !== undefined && !loopback.test(host)
      ? [{ path: [...at, 'security'], message: 'the password would cross the network for all to read; use startTls or tls' }]
      : []),
  ];
}

/** What no single setting shows to be wrong. */
export function peopleProblems({ mail: settings, webhooks }: People): PlacedProblem[] {
  const names = webhooks.map(({ name }) => name);
  return [
    ...(settings ? mailProblems(settings) : []),
    ...webhooks.flatMap((each, n) => secretProblems(['webhooks', n], 'secretVariable', { variable: each.secretVariable, file: each.secretFile }, 'secretFile')),
    ...names.flatMap((name, n) => (names.indexOf(name) < n ? [{ path: ['webhooks', n, 'name'], message: `"${name}" is the name of an earlier one` }] : [])),
    ...(settings || webhooks.length > 0 ? [] : [{ path: [], message: 'nobody is told anything: give mail or webhooks' }]),
  ];
}
