import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { BrowserLink, encode } from '../../../daemon/server/browserLink.ts';
import type { LinkSocket } from '../../../daemon/server/browserLink.ts';

/** A websocket whose network takes bytes only when told to. */
class StuckSocket implements LinkSocket {
  bufferedAmount = 0;
  closed: number | undefined;
  most = 0;
  readonly sent: string[] = [];
  private readonly waiting: { readonly bytes: number; readonly taken: () => void }[] = [];

  send(text: string, taken: () => void): void {
    this.sent.push(text);
    this.bufferedAmount += text.length;
    this.most = Math.max(this.most, this.bufferedAmount);
    this.waiting.push({ bytes: text.length, taken });
  }

  close(code: number): void {
    this.closed = code;
  }

  takeOne(): boolean {
    const first = this.waiting.shift();
    if (!first) return false;
    this.bufferedAmount -= first.bytes;
    first.taken();
    return true;
  }

  takeAll(): void {
    while (this.takeOne());
  }

  get messages(): readonly { readonly seq: number; readonly type: string; readonly text?: string }[] {
    return this.sent.map((text) => JSON.parse(text));
  }
}

const bounds = { slowAboveBytes: 500, drainedBelowBytes: 100, keptAnswers: 2 };
const event = (text: string) => encode({ type: 'event', event: { atMs: 0, kind: 'tile', text } });
const snapshot = (state: string) => [encode({ type: 'refused', request: 'the night', code: 'snapshot', sentence: state })];

describe('one browser’s link', () => {
  it('numbers by one and reads back as what was sent', () => {
    const socket = new StuckSocket();
    const link = new BrowserLink(socket, () => snapshot('s'));
    link.sendSnapshot();
    link.tell(event('a'));
    link.answer(encode({ type: 'answer', request: 'r1' }));
    expect(socket.messages).toEqual([
      { seq: 1, type: 'refused', request: 'the night', code: 'snapshot', sentence: 's' },
      { seq: 2, type: 'event', event: { atMs: 0, kind: 'tile', text: 'a' } },
      { seq: 3, type: 'answer', request: 'r1' },
    ]);
  });

  it('sends a slow browser nothing, and when it has read, the night as it then stands', () => {
    const socket = new StuckSocket();
    let state = 'old';
    const link = new BrowserLink(socket, () => snapshot(state), bounds);
    for (let i = 0; i < 1000; i += 1) link.tell(event(`tile ${i}`));
    expect(link.isSlow).toBe(true);
    const sentBefore = socket.sent.length;
    state = 'new';
    link.answer(encode({ type: 'answer', request: 'kept' }));
    expect(socket.sent.length).toBe(sentBefore);
    socket.takeAll();
    expect(link.isSlow).toBe(false);
    expect(socket.messages.slice(sentBefore)).toMatchObject([{ sentence: 'new' }, { type: 'answer', request: 'kept' }]);
  });

  it('sends no snapshot when nothing was missed, though one message alone is above the bound', () => {
    const socket = new StuckSocket();
    const link = new BrowserLink(socket, () => snapshot('x'.repeat(2000)), bounds);
    link.sendSnapshot();
    socket.takeAll();
    expect(socket.sent.length).toBe(1);
    expect(link.isSlow).toBe(false);
  });

  it('sends a long snapshot in pieces, each made only when the one before was taken, with changes in between', () => {
    const socket = new StuckSocket();
    let made = 0;
    const pieces = function* () {
      for (; made < 5; made += 1) yield event(`piece ${made} ${'x'.repeat(200)}`);
    };
    const link = new BrowserLink(socket, pieces, bounds);
    link.sendSnapshot();
    for (let sent = 1; sent <= 5; sent += 1) {
      expect([socket.sent.length, made]).toEqual([sent, sent - 1]);
      socket.takeOne();
    }
    expect([socket.sent.length, made]).toEqual([5, 5]);
    made = 0;
    link.sendSnapshot();
    socket.takeOne();
    link.tell(event('a change'));
    socket.takeAll();
    expect(socket.messages.slice(5).map((m) => JSON.stringify(m).match(/piece \d|a change/)?.[0])).toEqual(['piece 0', 'piece 1', 'a change', 'piece 2', 'piece 3', 'piece 4']);
    expect(socket.most).toBeLessThan(bounds.slowAboveBytes);
  });

  it('begins a snapshot anew for a browser that missed something in the middle of one', () => {
    const socket = new StuckSocket();
    const link = new BrowserLink(socket, () => ['0', '1', '2'].map((n) => event(`piece ${n}`)), bounds);
    link.sendSnapshot();
    for (let i = 0; i < 20; i += 1) link.tell(event(`tile ${i}`));
    expect(link.isSlow).toBe(true);
    socket.takeAll();
    expect(socket.messages.slice(-3).map((m) => JSON.stringify(m).match(/piece \d/)?.[0])).toEqual(['piece 0', 'piece 1', 'piece 2']);
  });

  it('lets a browser go that asks and does not read', () => {
    const socket = new StuckSocket();
    const link = new BrowserLink(socket, () => snapshot('s'), bounds);
    link.answer(encode({ type: 'answer', request: 'x'.repeat(600) }));
    link.answer(encode({ type: 'answer', request: 'a' }));
    link.answer(encode({ type: 'answer', request: 'b' }));
    expect(socket.closed).toBeUndefined();
    link.answer(encode({ type: 'answer', request: 'c' }));
    expect(socket.closed).toBe(1013);
  });

  it('whatever the network does: seq counts by one, what waits is bounded, and the last word arrives', () => {
    fc.assert(
      fc.property(fc.array(fc.oneof(fc.constant('tell' as const), fc.constant('take' as const)), { maxLength: 200 }), (steps) => {
        const socket = new StuckSocket();
        let told = 0;
        const link = new BrowserLink(socket, () => snapshot(String(told)), bounds);
        link.sendSnapshot();
        for (const step of steps) {
          if (step === 'take') socket.takeOne();
          else {
            told += 1;
            link.tell(encode({ type: 'refused', request: 'r', code: 'c', sentence: String(told) }));
          }
        }
        socket.takeAll();
        expect(socket.messages.map((m) => m.seq)).toEqual(socket.messages.map((_, i) => i + 1));
        expect(socket.messages.at(-1)).toMatchObject({ sentence: String(told) });
        expect(socket.most).toBeLessThan(bounds.slowAboveBytes + 200);
      }),
    );
  });
});
