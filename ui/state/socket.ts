import type { SocketLike } from './connection.ts';

/** The browser's websocket to the daemon. */
export function openSocket(): SocketLike {
  const socket = new WebSocket(new URL('/night', location.href.replace(/^http/, 'ws')));
  const like: SocketLike = { onopen: null, onmessage: null, onclose: null, send: (text) => socket.send(text), close: () => socket.close() };
  socket.onopen = () => like.onopen?.();
  socket.onmessage = (event: MessageEvent<unknown>) => like.onmessage?.(event);
  socket.onclose = () => {
    void goToDoorIfShut();
    like.onclose?.();
  };
  return like;
}

/** A session that has ended looks like a line that was lost: asked, the daemon says which, and shows its door in place of the page. */
async function goToDoorIfShut(): Promise<void> {
  const answer = await fetch('/door').catch(() => undefined);
  if (answer?.status === 401) location.reload();
}
