import { afterEach, describe, expect, it, vi } from 'vitest';
import type { Clock } from '../../../drivers/interfaces/index.ts';
import { parsePeople } from '../../../daemon/config/load.ts';
import { mailChannel } from '../../../daemon/telling/mail.ts';
import { Teller } from '../../../daemon/telling/teller.ts';
import type { Attempt, Channel, Tidings } from '../../../daemon/telling/types.ts';
import { createSystemClock } from '../../../drivers/clock/systemClock.ts';
import { slowMachineMs, TinyNights, type TinyNight } from '../../support/tinyNight.ts';
import { fewTiles, tinyFiles } from '../../support/tinyFiles.ts';
import { HandClock } from './handClock.ts';
import { MailServer } from './mailServer.ts';
import { eveningMs } from './samples.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/** Protects: a whole night is told as it went, and whatever becomes of the telling, the night is the same; what could not be told is in the records. */

const nights = new TinyNights();
const servers: MailServer[] = [];
afterEach(async () => {
  await nights.clear();
  for (const server of servers.splice(0)) await server.close();
});

const never = new AbortController().signal;
const files = tinyFiles(fewTiles);

interface Told {
  readonly channel: Channel;
  readonly messages: Tidings[];
}

/** A channel that keeps what it is sent. */
function keeper(about: readonly Tidings['kind'][]): Told {
  const messages: Tidings[] = [];
  const keep = (message: Tidings): Attempt => {
    messages.push(message);
    return { ok: true, answer: 'kept' };
  };
  return { messages, channel: { name: `keeper of ${about.join(' ')}`, about: new Set(about), send: async (message) => keep(message) } };
}

function tellerOf({ observatory, records, opener }: TinyNight, channels: readonly Channel[], clock: Clock, change: { readonly yaml?: string; readonly staysOn?: boolean } = {}): Teller {
  const { people } = parsePeople(`webhooks: [{ name: a, url: "http://127.0.0.1/" }]\n${change.yaml ?? ''}`, 'people.yaml');
  return new Teller({ opened: { people, channels }, board: observatory.board, records, clock, nightClock: opener.instrument.clock, log: { warn: () => undefined }, staysOn: change.staysOn ?? false });
}

describe('a night that is told', () => {
  it('comes as one mail with the flakes of the records, the best with pictures', async () => {
    const server = new MailServer();
    servers.push(server);
    await server.open();
    const night = nights.make({ files });
    const reader = { address: 'reader@example.org', about: ['finished', 'parked', 'failed', 'fault', 'morning'] as const };
    const mail = mailChannel({ server: { host: '127.0.0.1', port: server.port, security: 'none' }, from: 'nightjar@example.org', to: [] }, { ...reader, about: [...reader.about] }, undefined, createSystemClock());
    const teller = tellerOf(night, [mail], createSystemClock(), { yaml: 'pictures: 2' });
    teller.pageIs('http://127.0.0.1:7310/');
    teller.begin(night.opened);
    await night.run();
    teller.ended();
    await teller.close(never);
    expect(server.arrived).toHaveLength(1);
    const [arrived] = server.arrived;
    const flagged = night.records.flakes(night.opened.runId).filter(({ verdict }) => verdict === 'flagged');
    expect(flagged.length).toBeGreaterThan(0);
    expect(arrived?.mail.subject).toBe(`Nightjar: Good morning: One small chip (Test bench), ${flagged.length} ${flagged.length === 1 ? 'flake' : 'flakes'}`);
    for (const { id } of flagged) expect(arrived?.mail.text).toContain(id);
    expect(arrived?.mail.text).toContain('The page: http://127.0.0.1:7310/');
    const pictures = arrived?.mail.attachments ?? [];
    expect(pictures).toHaveLength(Math.min(2, flagged.length));
    for (const { size, contentType } of pictures) {
      expect(contentType).toBe('image/jpeg');
      expect(size).toBeLessThan(300_000);
    }
    expect(night.records.events(night.opened.runId).filter(({ kind }) => kind === 'telling')).toEqual([]);
  });

  it('is the same night to the byte when every message fails, and says what was not told', async () => {
    const quiet = nights.make({ files });
    await quiet.run();
    const night = nights.make({ files });
    const dead: Channel = { name: 'webhook dead', about: new Set(['finished', 'morning']), send: async () => ({ ok: false, again: false, reason: 'HTTP 404' }) };
    const teller = tellerOf(night, [dead], new HandClock(eveningMs));
    teller.begin(night.opened);
    await night.run();
    const dump = night.dump();
    expect(dump).toBe(quiet.dump());
    teller.ended();
    await teller.close(never);
    const told = 'Not told (morning), webhook dead, after 1 attempt: HTTP 404';
    expect(night.records.events(night.opened.runId).at(-1)).toMatchObject({ kind: 'telling', text: told });
    expect(night.observatory.board.snapshot().events.at(-1)).toMatchObject({ kind: 'telling', text: told });
  });

  it('that parks is told at once, to those who want to hear of it', async () => {
    const night = nights.makeOnRig({ files });
    const [parked, finished] = [keeper(['parked']), keeper(['finished'])];
    const teller = tellerOf(night, [parked.channel, finished.channel], new HandClock(eveningMs));
    teller.begin(night.opened);
    const leave = night.observatory.board.subscribe((message) => {
      if (message.type !== 'tile') return;
      leave();
      void night.observatory.stop();
    });
    await night.run();
    teller.ended();
    await teller.close(never);
    expect(finished.messages).toEqual([]);
    expect(parked.messages[0]).toMatchObject({ kind: 'parked', sentence: expect.stringMatching(/^Parked before T-01.*it was stopped.*--resume/), night: { title: 'One small chip', tilesPlanned: night.opened.plan.tileCount } });
  });

  it('has its summary at the time of day that was wished, or when the daemon is ended before', async () => {
    const night = nights.make({ files });
    const { messages, channel } = keeper(['finished', 'morning']);
    const clock = new HandClock(new Date('2026-01-18T03:00:00').getTime());
    const teller = tellerOf(night, [channel], clock, { yaml: 'morningAt: "06:30"', staysOn: true });
    teller.begin(night.opened);
    await night.run();
    teller.ended();
    await clock.untilSlept(3.5 * 3_600_000);
    expect(messages.map(({ kind }) => kind)).toEqual(['finished']);
    await teller.close(never);
    expect(messages.map(({ kind }) => kind)).toEqual(['finished', 'morning']);
  });
});

describe('a standstill', () => {
  it('is told after two minutes without a word from the run', async () => {
    const night = nights.make({ files });
    const { messages, channel } = keeper(['fault']);
    const clock = new HandClock(eveningMs);
    const teller = tellerOf(night, [channel], clock);
    teller.begin(night.opened);
    night.observatory.board.setProgress({ state: 'recovering', sentence: 'Waiting for the stage.', tilesDone: 1, tilesSkipped: 0, tilesFaulty: 0, tiles: 9, flagged: 0, leftS: 0, doneAtMs: 0, clockMs: 0 });
    await clock.untilSlept(120_000);
    clock.push(120_000);
    await vi.waitFor(() => expect(messages).toHaveLength(1));
    expect(messages[0]).toMatchObject({ kind: 'fault', sentence: 'The night has stood still for 2 minutes. Waiting for the stage.' });
    await teller.close(never);
  });

  it('of the mail server never holds up the end of the command: what is not sent by then is given up and recorded', async () => {
    const night = nights.make({ files });
    const hanging: Channel = { name: 'mail to nobody', about: new Set(['failed']), send: (_, signal) => new Promise((resolve) => signal.addEventListener('abort', () => resolve({ ok: false, again: true, reason: 'hung' }), { once: true })) };
    const clock = new HandClock(eveningMs);
    const teller = tellerOf(night, [hanging], clock);
    teller.begin(night.opened);
    teller.ended(new Error('made up'));
    const ctrlC = new AbortController();
    const closing = teller.close(ctrlC.signal);
    await clock.untilSlept(240_000);
    ctrlC.abort();
    await clock.untilSlept(15_000);
    clock.push(15_000);
    await closing;
    expect(night.records.events(night.opened.runId).map(({ text }) => text)).toEqual(['Not told (failed), mail to nobody, after 1 attempt: hung']);
  });
});
