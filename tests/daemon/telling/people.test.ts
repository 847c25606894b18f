import { chmodSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { parsePeople } from '../../../daemon/config/load.ts';
import { hasCode } from '../../../daemon/errors/index.ts';
import { openPeople } from '../../../daemon/telling/openPeople.ts';
import { escapeMarkup, oneLine } from '../../../daemon/markup.ts';
import { withoutSecrets } from '../../../daemon/telling/plainText.ts';
import { runCli } from '../cli/runCli.ts';
import { problemsOf } from '../config/samples.ts';
import { HandClock } from './handClock.ts';
import { MailServer } from './mailServer.ts';
import { eveningMs } from './samples.ts';

/** Protects: people.yaml is checked line by line, passwords come from where only their owner can read them and are shown nowhere, and `nightjar tell` says what came back. */

const folder = mkdtempSync(join(tmpdir(), 'nightjar-people-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const example = `mail:
  server: { host: smtp.example.org, user: nightjar, passwordFile: smtp-password }
  from: nightjar@example.org
  to:
    - { address: a@example.org }
webhooks:
  - { name: lab chat, url: "https://chat.example.org/hook/xyz", secretVariable: HOOK_KEY, about: [parked, failed] }
`;

const changed = (from: string, to: string): string => {
  expect(example).toContain(from);
  return example.replace(from, to);
};

describe('people.yaml', () => {
  it('fills in what is usual', () => {
    const { people } = parsePeople(example, 'people.yaml');
    expect(people.mail?.server).toMatchObject({ port: 587, security: 'startTls' });
    expect(people.mail?.to[0]?.about).toEqual(['finished', 'parked', 'failed', 'fault', 'morning']);
  });

  it.each([
    ['a@example.org', '"a@example.org\\nBcc: b@example.org"', 5, /one plain address/],
    ['a@example.org', '"A <a@example.org>"', 5, /one plain address/],
    ['passwordFile', 'paswordFile', 2, /nearest valid key is "passwordFile"/],
    ['passwordFile: smtp-password', 'passwordFile: p, passwordVariable: P', 2, /not both/],
    [', passwordFile: smtp-password', '', 2, /a user needs/],
    ['user: nightjar', 'user: nightjar, security: none', 2, /cross the network for all to read/],
    ['https://chat', 'ftp://chat', 7, /http or https/],
    ['https://chat', 'https://me:pw@chat', 7, /without a user name/],
    ['[parked, failed]', '[parked, everything]', 7, /one of finished, parked/],
    ['mail:', 'morningAt: "6.30"\nmail:', 1, /time of day/],
  ])('refuses %s as %s, with its line', (from, to, line, message) => {
    const problems = problemsOf(() => parsePeople(changed(from, to), 'people.yaml'));
    expect(problems).toContainEqual(expect.objectContaining({ line, message: expect.stringMatching(message) }));
  });
});

describe('a secret', () => {
  const open = (environment: Record<string, string>) => {
    const file = join(folder, 'people.yaml');
    writeFileSync(file, example);
    return openPeople(file, { clock: new HandClock(eveningMs), environment });
  };
  const problemsOpening = async (environment: Record<string, string>) => {
    const error: unknown = await open(environment).catch((caught: unknown) => caught);
    return hasCode(error, 'badConfig') ? error.details.problems : [];
  };
  const password = join(folder, 'smtp-password');

  it('that others may read is refused with the command that mends it, and never quoted', async () => {
    writeFileSync(password, 'hunter-two\n');
    for (const mode of [0o644, 0o640, 0o604]) {
      chmodSync(password, mode);
      const problems = await problemsOpening({ HOOK_KEY: 'k' });
      expect(problems).toEqual([{ line: 2, key: 'mail.server.passwordFile', message: expect.stringContaining(`chmod 600 ${password}`) }]);
      expect(JSON.stringify(problems)).not.toContain('hunter-two');
    }
    chmodSync(password, 0o600);
    const { channels } = await open({ HOOK_KEY: 'k' });
    expect(channels.map(({ name }) => name)).toEqual(['mail to a@example.org', 'webhook lab chat']);
    expect(JSON.stringify(channels)).not.toMatch(/hunter-two|xyz/);
  });

  it('that is missing or empty is named with its line, all of them at once', async () => {
    rmSync(password, { force: true });
    expect(await problemsOpening({})).toEqual([
      { line: 2, key: 'mail.server.passwordFile', message: expect.stringContaining('cannot be read') },
      { line: 7, key: 'webhooks[0].secretVariable', message: expect.stringContaining('HOOK_KEY is not set') },
    ]);
    writeFileSync(password, '\n', { mode: 0o600 });
    expect(await problemsOpening({ HOOK_KEY: '' })).toEqual([expect.objectContaining({ message: expect.stringContaining('is empty') }), expect.objectContaining({ message: expect.stringContaining('is empty') })]);
  });

  it('is taken out of what a server says, in each form in which it was sent', () => {
    const forms = ['s3cret', Buffer.from('s3cret').toString('base64'), Buffer.from('\0u\0s3cret').toString('base64')];
    expect(withoutSecrets(`535 ${forms.join(' ')}\r\nbye`, [{ user: 'u', secret: 's3cret' }])).toBe('535 [secret] [secret] [secret] bye');
  });
});

describe('text from outside', () => {
  it('stays on one line and is no markup', () => {
    expect(oneLine('a\r\nBcc: b\u2028c\0d\u0085e')).toBe('a Bcc: b c d e');
    expect(escapeMarkup(`<a href="x" id='y'>&`)).toBe('&lt;a href=&quot;x&quot; id=&#39;y&#39;&gt;&amp;');
  });
});

describe('nightjar tell', () => {
  it('lists who is told, sends nothing; with --test sends, and ends with 1 where one is not reached', async () => {
    const server = new MailServer();
    await server.open();
    try {
      const file = join(folder, 'here.yaml');
      writeFileSync(file, `mail:\n  server: { host: 127.0.0.1, port: ${server.port}, security: none }\n  from: n@example.org\n  to: [{ address: a@example.org }, { address: b@example.org, about: [parked] }]\n`);
      expect(await runCli(['tell', file])).toMatchObject({ code: 0, output: expect.stringContaining('mail to b@example.org: parked\n') });
      expect(server.arrived).toEqual([]);
      expect(await runCli(['tell', '--test', file])).toMatchObject({ code: 0, output: expect.stringMatching(/a@example\.org: taken \(250/) });
      expect(server.arrived.map(({ mail }) => mail.subject)).toEqual(Array(2).fill('Nightjar: Test message'));
      await server.close();
      expect(await runCli(['tell', file, '--test'])).toMatchObject({ code: 1, output: expect.stringMatching(/NOT told: .*ECONNREFUSED/) });
      expect(await runCli(['check', file])).toMatchObject({ code: 0, output: expect.stringContaining('a list of people to tell, in order') });
    } finally {
      await server.close();
    }
  });
});
