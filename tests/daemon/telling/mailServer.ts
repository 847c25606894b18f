import { once } from 'node:events';
import { createServer, type AddressInfo, type Server, type Socket } from 'node:net';
import { simpleParser, type ParsedMail } from 'mailparser';
import { SMTPServer, type SMTPServerOptions } from 'smtp-server';

export interface Arrived {
  readonly raw: string;
  readonly mail: ParsedMail;
  readonly recipients: readonly string[];
}

/** A real mail server on loopback that keeps what arrives, read by a parser that the sender does not use. */
export class MailServer {
  readonly arrived: Arrived[] = [];
  readonly logins: string[] = [];
  port = 0;
  private server: SMTPServer | undefined;

  async open(options: SMTPServerOptions = {}): Promise<void> {
    const server = new SMTPServer({
      authOptional: true,
      disabledCommands: ['STARTTLS'],
      logger: false,
      disableReverseLookup: true,
      onAuth: ({ username = '', password = '' }, _session, callback) => {
        this.logins.push(`${username}:${password}`);
        if (password === 'right') callback(null, { user: username });
        else callback(new Error(`no such login ${password}`));
      },
      onData: (stream, session, callback) => {
        const pieces: Buffer[] = [];
        stream.on('data', (piece: Buffer) => pieces.push(piece));
        stream.on('end', () => {
          const bytes = Buffer.concat(pieces);
          const recipients = session.envelope.rcptTo.map(({ address }) => address);
          simpleParser(bytes).then((mail) => {
            this.arrived.push({ raw: bytes.toString('latin1'), mail, recipients });
            callback();
          }, callback);
        });
      },
      ...options,
    });
    server.on('error', () => undefined);
    this.server = server;
    server.listen(0, '127.0.0.1');
    await once(server.server, 'listening');
    this.port = (server.server.address() as AddressInfo).port;
  }

  async close(): Promise<void> {
    const { server } = this;
    if (server) await new Promise<void>((resolve) => server.close(() => resolve()));
  }
}

/** A server of any protocol that does what it is told with each connection. */
export class RawServer {
  port = 0;
  private readonly sockets = new Set<Socket>();
  private readonly server: Server;

  constructor(connected: (socket: Socket) => void) {
    this.server = createServer((socket) => {
      this.sockets.add(socket);
      socket.on('error', () => undefined);
      connected(socket);
    });
  }

  async open(): Promise<void> {
    this.server.listen(0, '127.0.0.1');
    await once(this.server, 'listening');
    this.port = (this.server.address() as AddressInfo).port;
  }

  async close(): Promise<void> {
    for (const socket of this.sockets) socket.destroy();
    await new Promise<void>((resolve) => this.server.close(() => resolve()));
  }
}
