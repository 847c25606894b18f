import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { CliFolders, runCli } from './runCli.ts';

/** Protects: `nightjar check` names file, line, key and the nearest valid key; what is right is said to be right. */

const folders = new CliFolders();
afterEach(() => folders.clear());

/** Number of the first line that contains a text, counted from 1. */
function lineOf(text: string, part: string): number {
  return text.split('\n').findIndex((line) => line.includes(part)) + 1;
}

/** Changes one file and checks it. */
async function checkChanged(which: 'instrument' | 'sheet', from: string, to: string) {
  const files = folders.make();
  const text = readFileSync(files[which], 'utf8');
  expect(text).toContain(from);
  const changed = text.replace(from, to);
  writeFileSync(files[which], changed);
  return { file: files[which], line: lineOf(changed, to.trim().split('\n')[0] ?? ''), ...(await runCli(['check', files[which]])) };
}

describe('nightjar check', () => {
  it('says which file it is and that it is in order, and prints it with its defaults', async () => {
    const { instrument, sheet } = folders.make();
    expect(await runCli(['check', instrument])).toEqual({ code: 0, output: `${instrument}: an instrument file, in order.\n`, errors: '' });
    expect(await runCli(['check', sheet])).toEqual({ code: 0, output: `${sheet}: a run sheet, in order.\n`, errors: '' });
    const printed = JSON.parse((await runCli(['check', instrument, '--json'])).output) as { readonly kind: string; readonly instrument: { readonly stage: { readonly settleMs: number } } };
    expect(printed.kind).toBe('instrument');
    expect(printed.instrument.stage.settleMs).toBe(60);
  });

  it.each<['instrument' | 'sheet', string, string, string, string]>([
    ['instrument', 'safeHeightUm:', 'safeHeigthUm:', 'limits.safeHeigthUm', 'the nearest valid key is "safeHeightUm"'],
    ['sheet', 'opticalPath:', 'opticalPaht:', 'opticalPaht', 'the nearest valid key is "opticalPath"'],
    ['instrument', 'exposureMs: 8', 'exposureMs: long', 'opticalPaths.survey.exposureMs', 'must be a number, not "long"'],
    ['sheet', 'overlap: 0.1', 'overlap: 0.6', 'overlap', 'must be at most 0.5, not 0.6'],
    ['sheet', 'material: graphene', 'material: chalk', 'chips[0].material', 'must be one of graphene'],
  ])('ends with 2 and names file, line, key and what is wanted: %s, %s', async (which, from, to, key, wanted) => {
    const { code, file, line, errors, output } = await checkChanged(which, from, to);
    expect(code).toBe(2);
    expect(output).toBe('');
    expect(errors).toContain(file);
    expect(errors).toContain(`line ${line}, ${key}: `);
    expect(errors).toContain(wanted);
  });

  it('names the line of what is no YAML at all, and a file that is not there', async () => {
    const { folder } = folders.make();
    const broken = join(folder, 'broken.yaml');
    writeFileSync(broken, 'title: Two chips\nchips: [\n');
    expect(await runCli(['check', broken])).toMatchObject({ code: 2, errors: expect.stringMatching(/broken\.yaml has 1 error:\n {2}line [23], /) });
    const missing = join(folder, 'nowhere.yaml');
    expect(await runCli(['check', missing])).toMatchObject({ code: 2, errors: expect.stringContaining(`There is no file ${missing}`) });
  });
});
