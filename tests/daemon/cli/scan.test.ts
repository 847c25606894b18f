import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { appendFileSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterEach, describe, expect, it, vi } from 'vitest';
import type { NightSummary } from '../../../daemon/cli/runNight.ts';
import { openRecords, verifyRecords } from '../../../daemon/records/index.ts';
import { slowMachineMs } from '../../support/tinyNight.ts';
import { CliFolders, runCli } from './runCli.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/** Protects: `nightjar scan` ends with the exit code that its help promises, keeps what was done, and goes on from there. */

const folders = new CliFolders();
afterEach(() => folders.clear());

type Files = ReturnType<CliFolders['make']>;

const scanWords = ({ sheet, instrument, data }: Files): string[] => ['scan', sheet, '--instrument', instrument, '--data', data, '--workers', '1'];
const resumeWords = ({ data }: Files): string[] => ['scan', '--resume', '--data', data, '--workers', '1'];

/** What the records of a folder say of their last night. */
async function recorded(data: string) {
  const records = openRecords(data, { readOnly: true });
  try {
    const run = records.latestRun();
    if (!run) throw new Error('no night in the records');
    return { state: run.state, planned: run.plan.tileCount, tiles: records.tiles(run.id), events: records.events(run.id), sound: (await verifyRecords(records)).sound };
  } finally {
    records.close();
  }
}

/** Interrupts once some tiles are recorded. */
const afterSomeTiles = (output: string, interrupt: () => void): void => {
  if (/ [2-9]\/\d+ tiles/.test(output)) interrupt();
};

describe('nightjar scan', () => {
  it('scans, shows progress and prints the best flakes; there is nothing to resume then', async () => {
    const files = folders.make();
    const { code, output, errors } = await runCli(scanWords(files));
    expect(code).toBe(0);
    expect(errors).toBe('');
    const { state, planned, tiles, sound } = await recorded(files.data);
    expect({ state, sound, tiles: tiles.length }).toEqual({ state: 'finished', sound: true, tiles: planned });
    expect(output).toContain(`${planned}/${planned} tiles`);
    expect(output).toMatch(new RegExp(`Done: ${planned} tiles, \\d+ flakes? flagged\\.`));
    expect(output).toMatch(/layers +probability +usable µm +area µm² +chip +x µm +y µm +flake/);
    expect(readFileSync(join(files.data, 'nightjar.log'), 'utf8')).not.toContain('"level":50');
    expect(await runCli(resumeWords(files))).toMatchObject({ code: 2, errors: expect.stringContaining('is finished') });
  });

  it('prints JSON for scripts and nothing else, with each flake on the stage and on its chip', async () => {
    const files = folders.make();
    const { code, output, errors } = await runCli([...scanWords(files), '--json']);
    expect(code).toBe(0);
    expect(errors).toContain(' tiles');
    const summary = JSON.parse(output) as NightSummary;
    const { planned } = await recorded(files.data);
    expect(summary).toMatchObject({ title: 'One small chip', state: 'finished', cause: 'done', tiles: { planned, done: planned, skipped: 0 } });
    expect(summary.flakes.length).toBeGreaterThan(0);
    // The chip of the sheet: 640 x 540 um round 20 mm, 20 mm, turned by 3 degrees; its own frame begins at its first corner.
    const [cos, sin] = [Math.cos(Math.PI / 60), Math.sin(Math.PI / 60)];
    for (const { stageUm, chipUm } of summary.flakes) {
      const [x, y] = [chipUm[0] - 320, chipUm[1] - 270];
      expect(stageUm[0]).toBeCloseTo(20_000 + cos * x - sin * y, 0);
      expect(stageUm[1]).toBeCloseTo(20_000 + sin * x + cos * y, 0);
    }
  });

  it('draws one line over and over on a terminal', async () => {
    const files = folders.make();
    const { output } = await runCli(scanWords(files), { isTerminal: true });
    const lines = output.split('\r\u001b[2K').slice(1).map((line) => line.split('\n')[0] ?? '');
    expect(lines.length).toBeGreaterThan(10);
    for (const line of lines) expect(line.length).toBeLessThan(100);
  });

  it('parks when it is interrupted, ends with 130, lets no other night begin there, and goes on with --resume', async () => {
    const files = folders.make();
    const first = await runCli(scanWords(files), { watch: afterSomeTiles });
    expect(first.code).toBe(130);
    expect(first.output).toContain('it was stopped');
    const before = await recorded(files.data);
    expect(before).toMatchObject({ state: 'parked', sound: true });
    expect(before.tiles.length).toBeGreaterThan(0);
    expect(before.tiles.length).toBeLessThan(before.planned);
    expect(before.events.filter(({ kind }) => kind === 'trouble')).toEqual([]);
    expect(await runCli(scanWords(files))).toMatchObject({ code: 2, errors: expect.stringContaining('has not come to its end') });
    expect((await runCli(resumeWords(files))).code).toBe(0);
    const after = await recorded(files.data);
    expect(after.state).toBe('finished');
    expect(after.tiles.map(({ tile, outcome }) => [tile, outcome])).toEqual(Array.from({ length: after.planned }, (_, n) => [n, 'done']));
    expect(after.tiles.slice(0, before.tiles.length)).toEqual(before.tiles);
  });

  it('refuses a tray that the simulator does not know and an optical path that the instrument has not', async () => {
    const noTray = folders.make((instrument) => (instrument.simulator.tray = 'big'));
    expect(await runCli(scanWords(noTray))).toMatchObject({ code: 2, errors: expect.stringMatching(/knows no tray "big".*demo, tiny/) });
    const noPath = folders.make((_, sheet) => (sheet.opticalPath = 'close-up'));
    expect(await runCli(scanWords(noPath))).toMatchObject({ code: 2, errors: expect.stringContaining('close-up') });
  });
});

describe('nightjar as a process', () => {
  const bin = fileURLToPath(new URL('../../../daemon/bin.js', import.meta.url));
  const start = (words: readonly string[]) => {
    const child = spawn(process.execPath, [bin, ...words], { stdio: ['ignore', 'pipe', 'pipe'] });
    let said = '';
    for (const stream of [child.stdout, child.stderr]) stream.on('data', (bytes) => (said += String(bytes)));
    return { child, ended: once(child, 'close').then(([code]: readonly unknown[]) => ({ code, said: () => said })), said: () => said };
  };

  it('parks on SIGINT in the middle of a scan and ends with 130; nothing is lost, and --resume ends with 0', async () => {
    // All of the chip in many tiles: long enough for the signal to fall into the scan.
    const files = folders.make((_, sheet) => {
      sheet.overlap = 0.5;
      sheet.focus.pointsPerChip = 7;
      for (const { outline } of sheet.chips) Object.assign(outline.rectangle, { widthUm: 900, heightUm: 800 });
    });
    const { child, ended, said } = start(scanWords(files));
    let isAsked = false;
    child.stdout.on('data', () => {
      if (isAsked) return;
      afterSomeTiles(said(), () => {
        isAsked = true;
        child.kill('SIGINT');
      });
    });
    expect((await ended).code).toBe(130);
    const before = await recorded(files.data);
    expect(before).toMatchObject({ state: 'parked', sound: true });
    expect(before.events.filter(({ kind }) => kind === 'trouble')).toEqual([]);
    expect((await start(resumeWords(files)).ended).code).toBe(0);
    expect(await recorded(files.data)).toMatchObject({ state: 'finished', sound: true });
  });

  it('ends with 2 and one sentence on a wrong file, without a stack', async () => {
    const { sheet } = folders.make();
    appendFileSync(sheet, 'colour: red\n');
    const { code, said } = await start(['check', sheet]).ended;
    expect(code).toBe(2);
    expect(said()).toContain('colour');
    expect(said()).not.toMatch(/\n\s+at /);
  });
});
