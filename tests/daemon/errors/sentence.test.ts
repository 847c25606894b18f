import type { MarksRefusal } from '../../../planner/frames/marks.ts';
import { describe, expect, it } from 'vitest';
import fc from 'fast-check';
import { exitCodeFor, hasCode, NightjarError, sentenceFor, sentenceForRefusal } from '../../../daemon/errors/index.ts';
import { errorTable } from '../../../daemon/errors/table.ts';
import { DriverError } from '../../../drivers/interfaces/index.ts';

describe('the sentence of an error', () => {
  it('says what happened, what was kept and what to do next, with units', () => {
    const spoken = sentenceFor(new DriverError('limit', { axis: 'x', askedUm: 80_000, limitUm: 75_000 }));
    expect(spoken.code).toBe('limit');
    expect(spoken.sentence).toBe(
      'A move would go beyond a limit (axis x, asked 80\u2009000 µm, limit 75\u2009000 µm). The move was not begun. '
      + 'Choose a target inside the limits, or correct `limits` in instrument.yaml.',
    );
  });

  it('names what a run had kept when told', () => {
    const spoken = sentenceFor(new DriverError('noFrame', { afterS: 2 }), { tiles: 530, flakes: 1 });
    expect(spoken.happened).toBe('The camera gave no frame (after 2 s).');
    expect(spoken.kept).toBe('Kept: 530 tiles and 1 flake.');
  });

  it('lists every problem of a file by line and key', () => {
    const problems = [
      { line: 3, key: 'limits.xMin', message: 'unknown key; the nearest is xMinUm' },
      { line: 9, key: '', message: 'a mapping is wanted' },
    ];
    const { sentence } = sentenceFor(new NightjarError('badConfig', { file: 'instrument.yaml', problems }));
    expect(sentence).toContain('instrument.yaml has 2 errors:');
    expect(sentence).toContain('\n  line 3, limits.xMin: unknown key; the nearest is xMinUm\n');
    expect(sentence).toContain('\n  line 9, whole file: a mapping is wanted\n');
    expect(sentence).toMatch(/\nNothing was started\. Correct them/);
  });

  it('puts every refusal of a plan into words, with chip and limit', () => {
    const refusal = { code: 'beyondTravel', chip: 'K-08', limit: 'xMax', byUm: 4000, limitUm: 75_000 } as const;
    expect(sentenceForRefusal(refusal).happened).toBe('Chip K-08 needs the stage 4 mm beyond its limit xMax of 75 mm.');
    const { sentence } = sentenceFor(new NightjarError('planRefused', { refusals: [refusal, { code: 'chipsOverlap', chip: 'A', other: 'B' }] }));
    expect(sentence).toContain('Chip K-08 needs the stage 4 mm beyond');
    expect(sentence).toContain('Chips A and B lie over each other.');
  });

  it('knows the errors of Node that mean something to people', () => {
    const withCode = (code: string) => Object.assign(new Error(`${code}: of the system`), { code, path: 'data/x' });
    expect(sentenceFor(withCode('ENOSPC')).code).toBe('diskFull');
    expect(sentenceFor(withCode('ENOENT')).sentence).toContain('There is no file data/x.');
    expect(sentenceFor(new DOMException('aborted', 'AbortError')).code).toBe('interrupted');
  });

  it('never throws, whatever was thrown', () => {
    expect(sentenceFor(Object.create(null)).code).toBe('internal');
    fc.assert(
      fc.property(fc.anything(), (thing) => {
        const spoken = sentenceFor(thing);
        expect(spoken.code).toBe('internal');
        expect(exitCodeFor(thing)).toBe(thing === undefined ? 0 : 1);
      }),
    );
  });
});

describe('marks', () => {
  it.each<[MarksRefusal, RegExp]>([
    [{ code: 'marksMirrored', awayUm: 900 }, /^The marks of chip K-07 fit a mirrored chip, and are up to 900 µm off on this one\. Nothing has moved\. Look for a coordinate with the wrong sign/],
    [{ code: 'marksSwapped', first: 0, second: 2 }, /^Marks 1 and 3 of chip K-07 seem to be exchanged/],
    [{ code: 'markAstray', mark: 3, awayUm: 412 }, /^Mark 4 of chip K-07 lies 412 µm from where the others have it\./],
    [{ code: 'marksOnOneLine', widthUm: 12, leastUm: 200 }, /^The marks of chip K-07 lie on one line, within 12 µm: a mirrored chip would fit as well\./],
    [{ code: 'marksDisagree', worst: 1, awayUm: 77, allowedUm: 50 }, /mark 2 is off by 77 µm, and 50 µm is allowed\./],
    [{ code: 'marksContradict', misfitUm: -120, allowedUm: 50 }, /120 µm nearer to each other on the stage than on the chip\./],
  ])('say which and what to do: %o', (refusal, said) => {
    expect(sentenceFor(new NightjarError('marksRefused', { chip: 'K-07', ...refusal })).sentence).toMatch(said);
  });
});

describe('the error table', () => {
  /** Details rich enough for every entry; each entry reads only its own. */
  const rich = {
    file: 'f', problems: [], refusals: [], reason: 'r', tray: 't', material: 'm', known: ['k'], directory: 'd', tile: 1, table: 't', row: '1', found: 2, wanted: 1, title: 't',
    asked: 'a', state: 'paused', flakeId: 'f', terrace: 1, chip: 'c', other: 'o', triedUm: 40, cause: 'c', bytes: 2, maxBytes: 1, perS: 20, max: 8, origin: 'o', path: 'p', port: 1,
    corners: 2, skip: 0, code: 'markAstray', mark: 1, awayUm: 60, edgeA: 0, edgeB: 2, edgeMarginUm: 300, overlap: 0.7, limit: 'xMin', byUm: 1, limitUm: 2, tiles: 1, waiting: 1, exitCode: 1, message: 'm', runId: 'r',
    by: 'm.o.', host: 'bench2', waitS: 5, channel: 'red', uncertainty: 0.002, expectedUm: 1000, rangeUm: 40, zMinUm: 900, zMaxUm: 8000,
  };
  /** The one entry whose details hold an object of their own. */
  const richOf = (code: string) => (code === 'calibrationRefused' ? { procedure: 'camera', refusal: { code: 'noLines', score: 3, least: 15 } } : rich);
  const entries = Object.entries(errorTable as Readonly<Record<string, { exit: number; say: (details: object) => readonly string[] }>>);

  // The words that look.md rules out, and its three parts.
  it.each(entries)('speaks plainly and in whole sentences: %s', (code, entry) => {
    const parts = entry.say(richOf(code));
    expect(parts).toHaveLength(3);
    for (const part of parts) {
      expect(part.trim()).toMatch(/[.:]$/);
      expect(part).not.toMatch(/!|\bplease\b|\boops\b|successful|\binvalid\b|undefined|\[object|NaN/i);
    }
    expect([1, 2, 3, 130]).toContain(entry.exit);
  });

  it('sorts errors into the exit codes of the command line', () => {
    expect(exitCodeFor(undefined)).toBe(0);
    expect(exitCodeFor(new Error('anything'))).toBe(1);
    expect(exitCodeFor(new NightjarError('badUsage', { reason: 'no run sheet' }))).toBe(2);
    expect(exitCodeFor(new NightjarError('diskFull', { directory: 'data' }))).toBe(3);
    expect(exitCodeFor(new NightjarError('parked', { tile: 4, cause: 'the lamp died' }))).toBe(3);
    expect(exitCodeFor(new NightjarError('interrupted', {}))).toBe(130);
  });
});

describe('looking at codes', () => {
  it('tells one code from another', () => {
    const error: unknown = new NightjarError('inUse', { directory: 'data' });
    expect(hasCode(error, 'inUse') && error.details.directory).toBe('data');
    expect(hasCode(error, 'noRun')).toBe(false);
    expect(hasCode(new DriverError('closed'), 'closed')).toBe(false);
  });
});
