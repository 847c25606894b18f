import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { tinyTexts, type TinyChange } from '../../support/tinyFiles.ts';
import { slowMachineMs } from '../../support/tinyNight.ts';
import { CliFolders, runCli } from './runCli.ts';

/** Protects: `nightjar remount` brings a person back to a flake of a chip that was off the stage, and drives nowhere when it is another chip. */

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

const folders = new CliFolders();
afterAll(() => folders.clear());

const largeFrames: TinyChange = (instrument, sheet) => {
  Object.assign(instrument.camera, { widthPx: 512, heightPx: 416 });
  for (const chip of sheet.chips) Object.assign(chip.outline.rectangle, { widthUm: 900, heightUm: 800 });
  instrument.limits.maxLowTravelUm = 3000;
  sheet.focus.rangeUm = 40;
};

/** A night, and the instrument file of the day after: the chip turned by 70 degrees about its middle and shifted. */
async function scanned() {
  const files = folders.make(largeFrames);
  expect((await runCli(['scan', files.sheet, '-i', files.instrument, '--data', files.data])).code).toBe(0);
  const laid = (name: string, seed: number): string => {
    const { instrumentText } = tinyTexts((instrument, sheet) => {
      largeFrames(instrument, sheet);
      Object.assign(instrument.simulator, { seed, remounted: { 'T-01': { turnDeg: 70, shiftUm: [1500, -900] } } });
    });
    const file = join(files.folder, name);
    writeFileSync(file, instrumentText);
    return file;
  };
  return { ...files, again: laid('again.yaml', 7), stranger: laid('stranger.yaml', 4711) };
}

/** The chip's first corner and the opposite one, where they lie now: turned by 3 + 70 degrees about the middle at (21500, 19100). */
const marks = [[0, 0], [900, 800]].flatMap(([x = 0, y = 0]) => {
  const turn = (73 * Math.PI) / 180;
  const [dx, dy] = [x - 450, y - 400];
  const stage = [21_500 + dx * Math.cos(turn) - dy * Math.sin(turn), 19_100 + dx * Math.sin(turn) + dy * Math.cos(turn)];
  return ['--mark', `${x},${y}=${stage.map((um) => um.toFixed(1)).join(',')}`];
});

describe('nightjar remount', () => {
  let night: Awaited<ReturnType<typeof scanned>>;
  beforeAll(async () => {
    night = await scanned();
  });
  const remount = (...words: readonly string[]): ReturnType<typeof runCli> => runCli(['remount', 'T-01', '--data', night.data, '-i', night.again, ...words]);

  it('recognises the chip by two marks, and brings its best flake into the middle of the view', async () => {
    const found = await remount(...marks);
    expect([found.code, found.errors]).toEqual([0, '']);
    expect(found.output).toMatch(/^This is chip T-01: its picture was recognised \(likeness 0\.\d\d\), [\d.]+ µm from where the marks alone had it\.\nFlake T-01-\d+ \(.*\) is in the middle of the view, within [1-5](\.\d)? µm/);
  });

  it('recognises it by one corner, and says so where there is none', async () => {
    // About where its third corner lies, 40 um off: the edges say the rest.
    const third = (marks[3] ?? '').replace(/^.*=/, '').split(',').map(Number);
    const byCorner = await remount('--corner', `${(third[0] ?? NaN) + 40},${(third[1] ?? NaN) - 30}`);
    expect([byCorner.code, byCorner.errors]).toEqual([0, '']);
    expect(byCorner.output).toMatch(/^This is chip T-01: its picture was recognised/);
    const nowhere = await remount('--corner', '21500,19100');
    expect([nowhere.code, nowhere.errors]).toEqual([1, expect.stringMatching(/^No corner of chip T-01 is in the picture there\. Nothing drives on; the objective was lifted\./)]);
  });

  it('recognises it half a turn from what swapped marks say', async () => {
    const swapped = marks.map((word, i) => (i === 1 ? (marks[3] ?? '').replace(/^.*=/, '0,0=') : i === 3 ? (marks[1] ?? '').replace(/^.*=/, '900,800=') : word));
    expect((await remount(...swapped)).output).toContain('the chip lies half a turn from what they said');
  });

  it('drives nowhere when it is another chip', async () => {
    const other = await runCli(['remount', 'T-01', '--data', night.data, '-i', night.stranger, ...marks]);
    expect(other.code).toBe(1);
    expect(other.errors).toMatch(/^This is not chip T-01, .* Nothing drives on; the objective was lifted\./);
  });

  it('ends with 2 at a chip that is not known, one mark alone, and half a mark', async () => {
    const unknown = await runCli(['remount', 'K-99', '--data', night.data, '-i', night.again, ...marks]);
    expect([unknown.code, unknown.errors]).toEqual([2, expect.stringContaining('There is no chip K-99 in the last night of these records.')]);
    const one = await remount(...marks.slice(0, 2));
    expect([one.code, one.errors]).toEqual([2, expect.stringContaining('Chip T-01 has 1 mark; 2 are the least.')]);
    expect((await remount('--mark', '0,0')).errors).toContain('--mark 0,0: x,y=x,y in um is wanted');
  });
});
