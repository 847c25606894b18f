import { describe, expect, it } from 'vitest';
import type { ServerMessage } from '../../daemon/server/messages.ts';
import { connect, waitBeforeTry } from '../../ui/state/connection.ts';
import type { Connection, Link, SocketLike } from '../../ui/state/connection.ts';

class FakeSocket implements SocketLike {
  onopen: (() => void) | null = null;
  onmessage: ((event: { readonly data: unknown }) => void) | null = null;
  onclose: (() => void) | null = null;
  readonly sent: string[] = [];
  closed = false;
  send(text: string): void {
    this.sent.push(text);
  }
  close(): void {
    this.closed = true;
  }
}

interface Rig {
  readonly sockets: FakeSocket[];
  readonly links: Link[];
  readonly messages: ServerMessage[];
  readonly connection: Connection;
  last(): FakeSocket;
  /** Lets so much time pass, in order. */
  pass(ms: number): void;
}

/** A browser whose time passes only when it is told to. */
function rig(): Rig {
  let now = 1000;
  let timers: { at: number; call: () => void }[] = [];
  const sockets: FakeSocket[] = [];
  const links: Link[] = [];
  const messages: ServerMessage[] = [];
  const connection = connect({
    open: () => {
      const socket = new FakeSocket();
      sockets.push(socket);
      return socket;
    },
    timers: {
      now: () => now,
      after: (ms, call) => {
        const timer = { at: now + ms, call };
        timers.push(timer);
        return () => (timers = timers.filter((other) => other !== timer));
      },
    },
    onMessage: (message) => messages.push(message),
    onLink: (link) => links.push(link),
  });
  const pass = (ms: number): void => {
    const end = now + ms;
    for (;;) {
      const next = timers.filter((timer) => timer.at <= end).sort((a, b) => a.at - b.at)[0];
      if (!next) break;
      timers = timers.filter((timer) => timer !== next);
      now = next.at;
      next.call();
    }
    now = end;
  };
  return { sockets, links, messages, connection, pass, last: () => sockets.at(-1) ?? new FakeSocket() };
}

describe('the link to the daemon', () => {
  it('passes messages on while it is open, and sends only then', () => {
    const r = rig();
    expect(r.connection.send({ type: 'pause', request: 'r' })).toBe(false);
    r.last().onopen?.();
    r.last().onmessage?.({ data: '{"seq":1,"type":"answer","request":"r"}' });
    expect(r.connection.send({ type: 'pause', request: 'r' })).toBe(true);
    expect(r.messages).toEqual([{ seq: 1, type: 'answer', request: 'r' }]);
    expect(r.last().sent).toEqual(['{"type":"pause","request":"r"}']);
    expect(r.links.map((link) => link.state)).toEqual(['connecting', 'open']);
  });

  it('says at once that it is lost, since when, and tries again with longer and longer waits', () => {
    const r = rig();
    r.last().onopen?.();
    r.pass(300);
    r.last().onclose?.();
    expect(r.links.at(-1)).toEqual({ state: 'lost', heardMs: 1000, againMs: 1550 });
    for (const wait of [250, 500, 1000, 2000, 4000, 5000, 5000]) {
      const before = r.sockets.length;
      r.pass(wait - 1);
      expect(r.sockets.length).toBe(before);
      r.pass(1);
      expect(r.sockets.length).toBe(before + 1);
      r.last().onclose?.();
    }
    expect(waitBeforeTry(99)).toBe(5000);
  });

  it('begins with short waits again once it has been open', () => {
    const r = rig();
    for (let i = 0; i < 5; i += 1) {
      r.last().onclose?.();
      r.pass(5000);
    }
    r.last().onopen?.();
    r.last().onclose?.();
    const before = r.sockets.length;
    r.pass(250);
    expect(r.sockets.length).toBe(before + 1);
  });

  it('asks after a silence, goes on when answered, and counts as lost when not', () => {
    const r = rig();
    r.last().onopen?.();
    r.pass(4000);
    expect(r.last().sent).toEqual(['{"type":"ping","request":"ping 1"}']);
    r.last().onmessage?.({ data: '{"seq":1,"type":"answer","request":"ping 1"}' });
    r.pass(4000);
    expect(r.links.at(-1)?.state).toBe('open');
    expect(r.last().sent.length).toBe(2);
    const silent = r.last();
    r.pass(4000);
    expect(r.links.at(-1)?.state).toBe('lost');
    expect(silent.closed).toBe(true);
  });

  it('asks nothing while messages come', () => {
    const r = rig();
    r.last().onopen?.();
    for (let i = 0; i < 20; i += 1) {
      r.pass(1000);
      r.last().onmessage?.({ data: '{"seq":1,"type":"answer","request":"x"}' });
    }
    expect(r.last().sent).toEqual([]);
  });

  it('tries at once when asked to, and not at all once closed', () => {
    const r = rig();
    for (let i = 0; i < 6; i += 1) {
      r.last().onclose?.();
      r.pass(5000);
    }
    r.last().onclose?.();
    const before = r.sockets.length;
    r.connection.tryNow();
    r.pass(0);
    expect(r.sockets.length).toBe(before + 1);
    r.connection.close();
    r.pass(60_000);
    expect(r.sockets.length).toBe(before + 1);
  });
});
