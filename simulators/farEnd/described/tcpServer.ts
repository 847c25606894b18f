import { createServer, type AddressInfo, type Socket } from 'node:net';
import type { FarEnd } from './asciiFarEnd.ts';

export interface ServedOverTcp {
  readonly tcpPort: number;
  close(): Promise<void>;
}

/** Puts a far end behind a free port of this computer's own address. */
export async function serveOverTcp(farEnd: FarEnd): Promise<ServedOverTcp> {
  const sockets = new Set<Socket>();
  const server = createServer({ noDelay: true }, (socket) => {
    sockets.add(socket);
    const ear = farEnd.connected({ send: (bytes) => socket.writable && socket.write(bytes), hangUp: () => socket.destroy() });
    socket.on('data', (bytes) => ear.received(bytes));
    socket.on('error', () => socket.destroy());
    socket.once('close', () => {
      sockets.delete(socket);
      ear.gone();
    });
  });
  await new Promise<void>((resolve, reject) => {
    server.once('error', reject);
    server.listen(0, '127.0.0.1', resolve);
  });
  const { port } = server.address() as AddressInfo;
  return {
    tcpPort: port,
    close: () =>
      new Promise((resolve) => {
        for (const socket of sockets) socket.destroy();
        server.close(() => resolve());
      }),
  };
}
