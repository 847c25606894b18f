import { describe, expect, it } from 'vitest';
import { backoffMs, bound, Outbox, type Untold } from '../../../daemon/telling/outbox.ts';
import type { Attempt, Channel, Tidings } from '../../../daemon/telling/types.ts';
import { HandClock } from './handClock.ts';
import { eveningMs, tidings } from './samples.ts';

/** Protects: every message is sent or said not to be, in order, with bounded attempts and a bounded queue. */

const taken: Attempt = { ok: true, answer: 'taken' };
const down: Attempt = { ok: false, again: true, reason: 'down' };
const refused: Attempt = { ok: false, again: false, reason: 'refused' };

/** A channel that answers as it is told, the last answer for ever. */
function rig(...answers: readonly (Attempt | 'hang')[]) {
  const clock = new HandClock(eveningMs);
  const sent: string[] = [];
  const untold: Untold[] = [];
  const channel: Channel = {
    name: 'test',
    about: new Set(['finished', 'parked', 'fault', 'morning']),
    send: (message, signal) => {
      const answer = answers[Math.min(sent.length, answers.length - 1)] ?? taken;
      sent.push(message.id);
      if (answer !== 'hang') return Promise.resolve(answer);
      return new Promise((resolve) => signal.addEventListener('abort', () => resolve(down), { once: true }));
    },
  };
  return { clock, sent, untold, outbox: new Outbox(channel, clock, (each) => untold.push(each)) };
}

const message = (id: string, kind: Tidings['kind'] = 'parked') => tidings({ id, kind });

describe('an outbox', () => {
  it('sends in order, and leaves out what the channel is not about', async () => {
    const { outbox, sent, untold } = rig(taken);
    for (const each of [message('a'), message('b', 'failed'), message('c')]) outbox.put(each);
    await outbox.settled();
    expect([sent, untold]).toEqual([['a', 'c'], []]);
  });

  it('tries again with growing waits, and goes on with the next when it has got through', async () => {
    const { outbox, sent, untold, clock } = rig(down, down, taken);
    outbox.put(message('a'));
    outbox.put(message('b'));
    for (const waitMs of backoffMs.slice(0, 2)) {
      await clock.untilSlept(waitMs);
      clock.push(waitMs);
    }
    await outbox.settled();
    expect([sent, untold]).toEqual([['a', 'a', 'a', 'b'], []]);
  });

  it('gives up after four attempts, and says so', async () => {
    const { outbox, sent, untold, clock } = rig(down);
    outbox.put(message('a'));
    for (const waitMs of backoffMs) {
      await clock.untilSlept(waitMs);
      clock.push(waitMs);
    }
    await outbox.settled();
    expect(sent).toHaveLength(4);
    expect(untold).toEqual([{ channel: 'test', kind: 'parked', attempts: 4, reason: 'down' }]);
  });

  it('does not ask again where the answer is final', async () => {
    const { outbox, sent, untold } = rig(refused, taken);
    outbox.put(message('a'));
    outbox.put(message('b'));
    await outbox.settled();
    expect([sent, untold]).toEqual([['a', 'b'], [{ channel: 'test', kind: 'parked', attempts: 1, reason: 'refused' }]]);
  });

  it('is bounded: the oldest fault makes room for an end, and else the new one is not taken', async () => {
    const { outbox, untold, sent } = rig('hang');
    outbox.put(message('under way'));
    outbox.put(message('f0', 'fault'));
    for (let n = 1; n < bound; n++) outbox.put(message(`p${n}`));
    outbox.put(message('late fault', 'fault'));
    expect(untold.map(({ kind, attempts }) => [kind, attempts])).toEqual([['fault', 0]]);
    outbox.put(message('end'));
    outbox.put(message('end 2'));
    expect(untold.map(({ kind, reason }) => [kind, reason])).toEqual([['fault', `${bound} messages wait already`], ['fault', 'it made room for a later message'], ['parked', `${bound} messages wait already`]]);
    await outbox.giveUp();
    expect(sent).toEqual(['under way']);
    expect(untold).toHaveLength(3 + 1 + bound);
  });
});
