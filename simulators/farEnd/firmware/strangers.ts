import { openPty, type FarEndOfLine } from '../pty.ts';

/** Other kinds of devices that may be found on a line. */
export type Stranger = 'silent' | 'complains' | 'instrument';

/** How each answers one line. */
const ANSWERS: Readonly<Record<Stranger, (line: string) => string>> = {
  silent: () => '',
  complains: () => 'ERR?\r\n',
  // An instrument of an invented maker, answering the identity question of IEEE 488.2 and nothing that it does not know.
  instrument: (line) => (line.endsWith('*IDN?') ? 'BRAMBLE INSTRUMENTS,LAMP 40,0007,1.2\n' : ''),
};

/** A device of another kind at the far end of a line. */
export function openStranger(kind: Stranger): FarEndOfLine {
  const line = openPty();
  let held = '';
  line.onBytes((bytes) => {
    held += Buffer.from(bytes).toString('latin1');
    const lines = held.split('\n');
    held = (lines.pop() ?? '').slice(-64);
    for (const text of lines) line.write(Buffer.from(ANSWERS[kind](text.trim()), 'latin1'));
  });
  return line;
}
