// Control characters by their names in ASCII (ECMA-6, table of C0), as people write and read them: <CR>, <LF>, <STX>.
const NAMES = ['NUL', 'SOH', 'STX', 'ETX', 'EOT', 'ENQ', 'ACK', 'BEL', 'BS', 'HT', 'LF', 'VT', 'FF', 'CR', 'SO', 'SI', 'DLE', 'DC1', 'DC2', 'DC3', 'DC4', 'NAK', 'SYN', 'ETB', 'CAN', 'EM', 'SUB', 'ESC', 'FS', 'GS', 'RS', 'US'];

/** Longer texts are cut when they are shown. */
const SHOWN_CHARACTERS = 80;
const SHOWN_BYTES = 24;

/** A text with <CR> and its like turned into the characters that they stand for; any other < stays. */
export function withControls(text: string): string {
  return text.replace(/<([A-Z0-9]{2,3})>/g, (all, name: string) => {
    if (name === 'DEL') return '\x7f';
    const code = NAMES.indexOf(name);
    return code < 0 ? all : String.fromCharCode(code);
  });
}

function cut(text: string, most: number): string {
  return text.length > most ? `${text.slice(0, most)}...` : text;
}

function visibleCharacter(character: string): string {
  const code = character.charCodeAt(0);
  const name = NAMES[code];
  if (name !== undefined) return `<${name}>`;
  if (code === 0x7f) return '<DEL>';
  return code < 0x7f ? character : `<${code.toString(16).toUpperCase().padStart(2, '0')}>`;
}

/** The same the other way, for people: control characters by name, what is no ASCII in hex. One character a byte. */
export function visible(text: string): string {
  return cut(text, SHOWN_CHARACTERS).replace(/[^ -~]/g, visibleCharacter);
}

/** Bytes in hex, as a terminal program shows them: `50 4F 53 0D`. */
export function hexOf(text: string): string {
  const bytes = [...text.slice(0, SHOWN_BYTES)].map((character) => character.charCodeAt(0).toString(16).toUpperCase().padStart(2, '0'));
  return `${bytes.join(' ')}${text.length > SHOWN_BYTES ? ' ...' : ''}`;
}

/** True for text that people can read: printable ASCII, blanks and ends of lines. */
export function isReadable(text: string): boolean {
  return /^[\t\r\n -~]*$/.test(text);
}
