import { EventEmitter, once } from 'node:events';
import type { Socket } from 'node:net';
import fc from 'fast-check';
import sharp from 'sharp';
import { afterEach, describe, expect, it } from 'vitest';
import { mailChannel } from '../../../daemon/telling/mail.ts';
import type { MailSettings } from '../../../daemon/config/people.ts';
import { createSystemClock } from '../../../drivers/clock/systemClock.ts';
import { HandClock } from './handClock.ts';
import { MailServer, RawServer } from './mailServer.ts';
import { eveningMs, flake, tidings } from './samples.ts';

/** Protects: the mail arrives as it was meant, names can add neither headers nor elements to it, a mail server that misbehaves is told from one that says no, and no password is ever said. */

const closing: { close(): Promise<void> }[] = [];
afterEach(async () => {
  for (const each of closing.splice(0)) await each.close();
});

async function mailServer(options: Parameters<MailServer['open']>[0] = {}): Promise<MailServer> {
  const server = new MailServer();
  await server.open(options);
  closing.push(server);
  return server;
}

async function rawServer(connected: (socket: Socket) => void): Promise<RawServer> {
  const server = new RawServer(connected);
  await server.open();
  closing.push(server);
  return server;
}

const reader: MailSettings['to'][number] = { address: 'reader@example.org', about: ['morning'] };
const settings = (port: number, change: Partial<MailSettings['server']> = {}): MailSettings => ({ server: { host: '127.0.0.1', port, security: 'none', ...change }, from: 'nightjar@example.org', to: [reader] });
const channel = (port: number, change: Partial<MailSettings['server']> = {}, password?: string) => mailChannel(settings(port, change), reader, password, createSystemClock());
const never = new AbortController().signal;

async function picture() {
  return { id: 'flake-1', jpeg: await sharp({ create: { width: 48, height: 32, channels: 3, background: '#846' } }).jpeg().toBuffer(), widthPx: 48, heightPx: 32, barUm: 5 };
}

describe('a mail that arrives', () => {
  it('holds the night in both forms and the picture where the text shows it', async () => {
    const server = await mailServer();
    const shown = await picture();
    expect(await channel(server.port).send(tidings({ pictures: new Map([['K-07/3', shown]]) }), never)).toMatchObject({ ok: true });
    const [{ mail, recipients }] = server.arrived as [MailServer['arrived'][number]];
    expect(recipients).toEqual(['reader@example.org']);
    expect(mail.subject).toBe('Nightjar: Good morning: Tuesday, new tape (Bench 2), 1 flake');
    expect(mail.from?.value).toEqual([{ name: 'Nightjar', address: 'nightjar@example.org' }]);
    expect(mail.date?.getTime()).toBe(eveningMs);
    for (const said of ['418 of 420 tiles, 2 left out', '1 layer at 0.97', 'It took 1 h 05 min; 1 h 00 min were forecast.', '1 min 02 s for the classifier', '2 tiles were left out: the frame is black.', 'http://127.0.0.1:7310/', 'a circle of 14 µm fits']) {
      expect(mail.text).toContain(said);
      expect(mail.html).toContain(said);
    }
    const [attached] = mail.attachments;
    expect(attached?.content.equals(shown.jpeg)).toBe(true);
    expect(attached).toMatchObject({ contentDisposition: 'inline', contentType: 'image/jpeg', related: true });
    // The parser puts the picture in the place that names it by its id.
    expect(mail.html).toContain(`src="data:image/jpeg;base64,${shown.jpeg.toString('base64')}"`);
    expect(server.logins).toEqual([]);
  });

  it('takes names with line breaks and marks as text: no header and no element is added', async () => {
    const server = await mailServer();
    const odd = fc.string({ unit: fc.constantFrom('a', '\r', '\n', ':', ' ', '<', '>', '"', '&', "'", '\u2028', '\0', 'é', '\r\nBcc: thief@example.org\r\n', '<script>', '<img src=x>') , minLength: 1, maxLength: 30 });
    const { night } = tidings();
    await fc.assert(
      fc.asyncProperty(odd, odd, odd, async (title, chip, trouble) => {
        server.arrived.length = 0;
        const sent = tidings({ ...(night ? { night: { ...night, title, instrument: chip } } : {}), flakes: [flake({ chip, id: title })], troubles: [trouble], sentence: trouble, pictures: new Map([[title, await picture()]]) });
        expect(await channel(server.port).send(sent, never)).toMatchObject({ ok: true });
        const [{ mail, raw, recipients }] = server.arrived as [MailServer['arrived'][number]];
        expect([...mail.headers.keys()].sort()).toEqual(['auto-submitted', 'content-type', 'date', 'from', 'message-id', 'mime-version', 'subject', 'to']);
        expect(raw.split('\r\n\r\n')[0]).not.toMatch(/^bcc:/im);
        expect(recipients).toEqual(['reader@example.org']);
        expect(mail.html).not.toMatch(/<script|<img src=x/);
      }),
      { numRuns: 20 },
    );
  });
});

describe('the password', () => {
  it('is used where it is wanted', async () => {
    const server = await mailServer({ authOptional: false, allowInsecureAuth: true });
    expect(await channel(server.port, { user: 'nightjar' }, 'right').send(tidings(), never)).toMatchObject({ ok: true });
    expect(server.logins).toEqual(['nightjar:right']);
  });

  it('is not said when the server says it, and a refused login is not tried again', async () => {
    const server = await mailServer({ authOptional: false, allowInsecureAuth: true });
    const attempt = await channel(server.port, { user: 'nightjar' }, 'wr0ng-secret').send(tidings(), never);
    expect(attempt).toMatchObject({ ok: false, again: false, reason: expect.stringContaining('no such login [secret]') });
    expect(JSON.stringify(attempt)).not.toContain('wr0ng-secret');
  });

  it('and the mail are kept back from a server without TLS where startTls is asked, and from one whose certificate nobody vouches for', async () => {
    const plain = await mailServer({ allowInsecureAuth: true });
    expect(await channel(plain.port, { security: 'startTls', user: 'nightjar' }, 'right').send(tidings(), never)).toMatchObject({ ok: false });
    const selfSigned = await mailServer({ disabledCommands: [] });
    expect(await channel(selfSigned.port, { security: 'startTls', user: 'nightjar' }, 'right').send(tidings(), never)).toMatchObject({ ok: false, reason: expect.stringMatching(/certificate/i) });
    for (const server of [plain, selfSigned]) expect([server.logins, server.arrived]).toEqual([[], []]);
  });
});

describe('a mail server that misbehaves', () => {
  it('that is dead may be back later', async () => {
    const server = await rawServer(() => undefined);
    await server.close();
    closing.pop();
    expect(await channel(server.port).send(tidings(), never)).toMatchObject({ ok: false, again: true, reason: expect.stringContaining('ECONNREFUSED') });
  });

  it('that hangs is given up after a minute by the clock, and its line is closed', async () => {
    const far = new EventEmitter();
    const server = await rawServer((socket) => {
      socket.resume().on('close', () => far.emit('closed'));
      far.emit('arrived');
    });
    const [arrived, closed] = [once(far, 'arrived'), once(far, 'closed')];
    const clock = new HandClock(eveningMs);
    const sending = mailChannel(settings(server.port), reader, undefined, clock).send(tidings(), never);
    await arrived;
    clock.push(60_000);
    expect(await sending).toEqual({ ok: false, again: true, reason: 'the mail server did not answer within 60 s' });
    await closed;
  });

  it('that says no for good is not asked again; one that says "later" is', async () => {
    const saying = (code: number) => ({ onRcptTo: (_address: unknown, _session: unknown, callback: (error: Error) => void) => callback(Object.assign(new Error('no'), { responseCode: code })) });
    const never5 = await mailServer(saying(550));
    const later4 = await mailServer(saying(451));
    expect(await channel(never5.port).send(tidings(), never)).toMatchObject({ ok: false, again: false });
    expect(await channel(later4.port).send(tidings(), never)).toMatchObject({ ok: false, again: true });
  });
});
