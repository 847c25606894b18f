import { createTransport } from 'nodemailer';
import type { Clock } from '../../drivers/interfaces/index.ts';
import type { MailSettings } from '../config/people.ts';
import { cidOf } from './cid.ts';
import { mailHtml } from './mailHtml.ts';
import { mailText, subjectOf } from './mailText.ts';
import { withoutSecrets } from './plainText.ts';
import { withTimeLimit } from './timeLimit.ts';
import type { Attempt, Channel, Tidings } from './types.ts';

/** From the connection to the server's last word; a mail with its pictures is a megabyte at most. */
const timeLimitMs = 60_000;

/** A mail to one reader, so that a wrong address keeps nobody else from being told. */
export function mailChannel({ server, from }: MailSettings, to: MailSettings['to'][number], password: string | undefined, clock: Clock): Channel {
  const secrets = password === undefined ? [] : [{ secret: password, ...(server.user === undefined ? {} : { user: server.user }) }];
  return {
    name: `mail to ${to.address}`,
    about: new Set([...to.about, 'test' as const]),
    send: (tidings, signal) =>
      withTimeLimit(clock, timeLimitMs, signal, async (limited, timedOut): Promise<Attempt> => {
        const transport = createTransport({ ...transportOptions(server), ...(server.user === undefined || password === undefined ? {} : { auth: { user: server.user, pass: password } }) });
        try {
          const { response } = await transport.sendMail({ ...messageOf(tidings, from), to: to.address, signal: limited });
          return { ok: true, answer: withoutSecrets(response, secrets) };
        } catch (error) {
          if (timedOut()) return { ok: false, again: true, reason: `the mail server did not answer within ${timeLimitMs / 1000} s` };
          return { ok: false, again: mayPass(error), reason: withoutSecrets(error instanceof Error ? error.message : String(error), secrets) };
        } finally {
          transport.close();
        }
      }),
  };
}

/** `startTls` sends nothing before the line is safe; certificates are checked in either case. */
function transportOptions({ host, port, security }: MailSettings['server']) {
  return { host, port, secure: security === 'tls', requireTLS: security === 'startTls', ignoreTLS: security === 'none' };
}

function messageOf(tidings: Tidings, from: string) {
  return {
    from: { name: 'Nightjar', address: from },
    subject: subjectOf(tidings),
    date: new Date(tidings.atMs),
    messageId: `<${tidings.id}@nightjar.invalid>`,
    headers: { 'Auto-Submitted': 'auto-generated' },
    text: mailText(tidings),
    html: mailHtml(tidings),
    attachments: [...tidings.pictures.values()].map(({ id, jpeg }) => ({ filename: `${id}.jpg`, cid: cidOf(id), content: Buffer.from(jpeg), contentType: 'image/jpeg', contentDisposition: 'inline' as const })),
    // A message names no files and no addresses to be fetched.
    disableFileAccess: true,
    disableUrlAccess: true,
  };
}

/** A server's 5xx is its last word (RFC 5321, 4.2.1), and so is a refused login; all else may be better later. */
function mayPass(error: unknown): boolean {
  const code = error instanceof Error && 'responseCode' in error ? Number(error.responseCode) : 0;
  return !(code >= 500 && code < 600);
}
