import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { checkTogether, parseInstrument, parseRunSheet } from '../../daemon/config/load.ts';
import { instrumentSchema } from '../../daemon/config/instrument.ts';
import { runSheetSchema } from '../../daemon/config/runSheet.ts';

// What README.md tells a newcomer, held against the program: the schemas are the truth, the page must follow.

const readme = readFileSync(new URL('../../README.md', import.meta.url), 'utf8');
const [instrumentText = '', runSheetText = ''] = [...readme.matchAll(/```yaml\n([\s\S]*?)```/g)].map((match) => match[1] ?? '');

describe('README.md', () => {
  test('its two examples are valid, and fit each other', () => {
    const runSheet = parseRunSheet(runSheetText, 'README.md');
    const instrument = parseInstrument(instrumentText, 'README.md');
    checkTogether(runSheet, instrument);
    expect(runSheet.chips.map(({ name }) => name)).toEqual(['K-07', 'K-08', 'B-02']);
  });
  test('its examples show every top-level key of both files', () => {
    const keysOf = (text: string): readonly string[] => [...text.matchAll(/^(\w+):/gm)].map((match) => match[1] ?? '').sort();
    expect(keysOf(instrumentText)).toEqual(Object.keys(instrumentSchema.shape).sort());
    expect(keysOf(runSheetText)).toEqual(Object.keys(runSheetSchema.shape).sort());
  });
});
