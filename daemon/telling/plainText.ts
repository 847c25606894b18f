/** Longest piece of text from outside that goes into one line. */
const longest = 300;

/**
 * A text from outside on one line: control characters, line and paragraph separators become spaces, so that it can add no header and no line,
 * and what is too long is cut.
 */
export function oneLine(text: string, length = longest): string {
  const flat = text.replace(/[\p{Cc}\p{Zl}\p{Zp}]+/gu, ' ').trim();
  return flat.length <= length ? flat : `${flat.slice(0, length - 1)}…`;
}

const entities: Readonly<Record<string, string>> = { '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;', "'": '&#39;' };

/** A text from outside within HTML, in an element or in a quoted attribute. */
export function escapeHtml(text: string): string {
  return text.replace(/[&<>"']/g, (sign) => entities[sign] ?? sign);
}

/** A reason from outside with every secret taken out, also as a mail server sees it: base64 of the password alone and of "\0user\0password" (RFC 4616). */
export function withoutSecrets(text: string, secrets: readonly { readonly user?: string; readonly secret: string }[]): string {
  const forms = secrets.flatMap(({ user = '', secret }) => [secret, base64(secret), base64(`\0${user}\0${secret}`)]).sort((a, b) => b.length - a.length);
  return oneLine(forms.filter((form) => form !== '').reduce((clean, form) => clean.replaceAll(form, '[secret]'), text));
}

function base64(text: string): string {
  return Buffer.from(text, 'utf8').toString('base64');
}
