import { oneLine } from '../markup.ts';

/** A reason from outside with every secret taken out, also as a mail server sees it: base64 of the password alone and of "\0user\0password" (RFC 4616). */
export function withoutSecrets(text: string, secrets: readonly { readonly user?: string; readonly secret: string }[]): string {
  const forms = secrets.flatMap(({ user = '', secret }) => [secret, base64(secret), base64(`\0${user}\0${secret}`)]).sort((a, b) => b.length - a.length);
  return oneLine(forms.filter((form) => form !== '').reduce((clean, form) => clean.replaceAll(form, '[secret]'), text));
}

function base64(text: string): string {
  return Buffer.from(text, 'utf8').toString('base64');
}
