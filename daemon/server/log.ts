/** The part of a log that the server writes to; a pino logger is one. */
export interface ServerLog {
  info(details: Readonly<Record<string, unknown>>, text: string): void;
  warn(details: Readonly<Record<string, unknown>>, text: string): void;
}
