import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Command } from 'commander';
import { afterEach, describe, expect, it } from 'vitest';
import { doctorCommand } from '../../../daemon/cli/doctor.ts';
import { isFit } from '../../../daemon/doctor/examine.ts';
import type { Finding } from '../../../daemon/doctor/finding.ts';
import { reportJson, reportText } from '../../../daemon/doctor/report.ts';
import { createSystemSurroundings } from '../../../daemon/doctor/systemSurroundings.ts';
import { exitCodeFor, sentenceFor } from '../../../daemon/errors/index.ts';
import { systemSecrets } from '../../../daemon/server/systemSecrets.ts';
import { createSystemClock } from '../../../drivers/clock/systemClock.ts';
import { instrumentText, instrumentWith } from './instruments.ts';
import { blindFindings, findingsOn } from './madeUp.ts';

/** Protects: the words and the exit code of `nightjar doctor`, and that it can read this computer, whatever that is like. */

const clock = createSystemClock();
const toEnd: (() => void)[] = [];
afterEach(() => {
  for (const end of toEnd.splice(0)) end();
});

function folder(): string {
  const made = mkdtempSync(join(tmpdir(), 'nightjar-doctor-'));
  toEnd.push(() => rmSync(made, { recursive: true, force: true }));
  return made;
}

describe('the report', () => {
  it('of a computer that is fit has a line for each check and nothing to do', async () => {
    const findings = await findingsOn();
    const text = reportText(findings, false);
    expect(isFit(findings)).toBe(true);
    expect(findings.map(({ verdict }) => verdict)).toEqual(findings.map(() => 'ok'));
    expect(text).not.toContain('->');
    expect(text).toMatch(/\nNothing must be mended; 0 pieces of advice, 0 that cannot be told\.$/);
    expect(text).toContain('nightjar doctor INSTRUMENT.yaml');
  });
  it('names what to mend under what was seen', async () => {
    const findings = await findingsOn({ nodeVersion: '18.0.0', instrument: instrumentWith() });
    const text = reportText(findings, true);
    expect(isFit(findings)).toBe(false);
    expect(text).toMatch(/TO MEND {9}Node +18\.0\.0, 20\.19 or later is needed\n +-> install Node\.js 20\.19\.0 or later/);
    expect(text).toMatch(/\n1 thing to mend; \d pieces? of advice/);
    expect(text).not.toContain('nightjar doctor INSTRUMENT.yaml');
  });
  it('says that it cannot tell where nothing can be read, and never fails', async () => {
    const findings = await blindFindings(instrumentWith());
    const told = findings.filter(({ verdict }) => verdict === 'ok').map(({ check }) => check);
    expect(told).toEqual(['user', 'camera library']);
    expect(findings.length).toBeGreaterThan(8);
  });
  it('is plain data for scripts', async () => {
    const findings = await findingsOn();
    expect(JSON.parse(reportJson(findings))).toEqual({ fit: true, findings });
  });
  it('keeps every finding to one line each', async () => {
    for (const { seen, mend = '' } of [...(await findingsOn({ uid: 0, plugged: [] })), ...(await blindFindings(undefined))]) expect(`${seen}${mend}`).not.toContain('\n');
  });
});

describe('this computer', () => {
  const here = createSystemSurroundings(clock);
  it('is read as it is', async () => {
    const made = folder();
    writeFileSync(join(made, 'a'), 'text');
    expect(await here.readText(join(made, 'a'))).toBe('text');
    expect(await here.list(made)).toEqual(['a']);
    expect(await here.facts(made)).toMatchObject({ kind: 'folder', uid: here.user.uid, mode: 0o700 });
    expect(await here.facts('/dev/null')).toMatchObject({ kind: 'characterDevice' });
    expect(await here.facts(join(made, 'a'))).toMatchObject({ kind: 'other' });
    expect(await here.may('createIn', made)).toBe(true);
    expect(await here.may('readAndWrite', join(made, 'a'))).toBe(true);
    expect((await here.space(made))?.freeBytes).toBeGreaterThan(0);
    expect(await here.realPath('/proc/self')).toBe(`/proc/${process.pid}`);
    expect(await here.linkTarget('/proc/self')).toBe(String(process.pid));
    expect(here.node.version).toBe(process.versions.node);
    expect(here.env('PATH')).toBe(process.env.PATH);
  });
  it('has nothing where there is nothing, and says so without failing', async () => {
    const nowhere = join(folder(), 'nowhere');
    for (const read of [here.readText, here.list, here.linkTarget, here.realPath, here.facts, here.space]) expect(await read(nowhere)).toBeUndefined();
    expect(await here.may('createIn', nowhere)).toBe(false);
  });
});

async function run(...words: readonly string[]): Promise<{ readonly code: number; readonly said: string }> {
  let said = '';
  const writer = { isTerminal: false, columns: 100, write: (text: string) => void (said += text) };
  const program = new Command('nightjar').exitOverride();
  let code = -1;
  doctorCommand(program, { clock, secrets: systemSecrets, output: writer, errors: writer, interrupted: new AbortController().signal }, (exit) => {
    code = exit;
  });
  try {
    await program.parseAsync(['doctor', ...words], { from: 'user' });
  } catch (error) {
    said += sentenceFor(error).sentence;
    code = exitCodeFor(error);
  }
  return { code, said };
}

describe('nightjar doctor', () => {
  it('examines this computer, with an exit code that fits what it found', async () => {
    const made = folder();
    const file = join(made, 'bench.yaml');
    writeFileSync(file, instrumentText());
    const { code, said } = await run(file, '--data', join(made, 'data'), '--json');
    const { fit, findings } = JSON.parse(said) as { fit: boolean; findings: readonly Finding[] };
    expect(code).toBe(fit ? 0 : 1);
    const checks = new Set(findings.map(({ check }) => check));
    for (const check of ['user', 'serial port', 'serial services', 'camera library', 'network buffer', 'network packets', 'Node', 'data folder', 'disk', 'file system', 'memory', 'clock', 'sleep']) expect(checks).toContain(check);
    // No such adapter exists anywhere.
    expect(findings).toContainEqual(expect.objectContaining({ check: 'serial port', verdict: 'toMend' }));
  });
  it('names a mistake in the instrument file', async () => {
    const file = join(folder(), 'bench.yaml');
    writeFileSync(file, instrumentText().replace('stepsPerMm: 3200', 'stepsPerMn: 3200'));
    const { code, said } = await run(file);
    expect(code).toBe(2);
    expect(said).toContain('the nearest valid key is "stepsPerMm"');
  });
});
