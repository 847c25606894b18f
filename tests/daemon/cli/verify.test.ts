import { appendFileSync, mkdirSync, readFileSync, renameSync, rmSync, truncateSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, describe, expect, it, vi } from 'vitest';
import { openRecords, type RecordsStore, type VerifyReport } from '../../../daemon/records/index.ts';
import { slowMachineMs } from '../../support/tinyNight.ts';
import { CliFolders, runCli } from './runCli.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/** Protects: `nightjar verify` says sound or not in its first line and its exit code, names what is wrong, and changes nothing. */

const folders = new CliFolders();
const opened: RecordsStore[] = [];
afterEach(() => {
  for (const records of opened.splice(0)) records.close();
  folders.clear();
});

/** A whole night by the command line; gives the data folder. */
async function scanned(): Promise<string> {
  const { sheet, instrument, data } = folders.make();
  expect((await runCli(['scan', sheet, '--instrument', instrument, '--data', data, '--workers', '1'])).code).toBe(0);
  return data;
}

const firstLine = (text: string): string => text.split('\n')[0] ?? '';

describe('nightjar verify', () => {
  it('finds a night sound, its pictures decoded too; then names what was lost and damaged', async () => {
    const data = await scanned();
    const sound = await runCli(['verify', data, '--deep']);
    expect(sound).toMatchObject({ code: 0, errors: '' });
    expect(firstLine(sound.output)).toMatch(/^SOUND: all that is recorded in .* \d+ rows and \d+ files were checked\.$/);
    expect(sound.output).not.toContain('Harmless');
    const before = readFileSync(join(data, 'nightjar.sqlite'));
    const [lost, damaged] = [fileOf(data, 0), fileOf(data, 1)];
    rmSync(join(data, lost));
    appendFileSync(join(data, damaged), 'x');
    writeFileSync(join(data, `${damaged}.part`), 'x');
    const wrong = await runCli(['verify', data]);
    expect(wrong.code).toBe(1);
    expect(firstLine(wrong.output)).toMatch(/^NOT SOUND: 2 problems in /);
    for (const said of ['A picture is missing', `${lost}: a record names it`, 'A picture has other bytes', 'Harmless: 1 file written by halves', '-> Put the file back']) expect(wrong.output).toContain(said);
    const report = JSON.parse((await runCli(['verify', data, '--json'])).output) as VerifyReport;
    expect(report).toMatchObject({ sound: false, problems: [{ kind: 'fileMissing', where: lost }, { kind: 'fileChanged', where: damaged }], leftovers: [`${damaged}.part`], isInUse: false });
    expect(readFileSync(join(data, 'nightjar.sqlite')).equals(before)).toBe(true);
  });

  it('works beside a daemon that writes, and says what it does not judge then', async () => {
    const data = await scanned();
    opened.push(openRecords(data));
    writeFileSync(join(data, 'runs', 'on-its-way.webp'), 'x');
    const { code, output } = await runCli(['verify', data]);
    expect(code).toBe(0);
    expect(output).toContain('A Nightjar writes to this folder now');
    expect(output).not.toContain('on-its-way');
  });

  it('says that the records are gone where only pictures are left, and that a database is damaged', async () => {
    const data = await scanned();
    const database = join(data, 'nightjar.sqlite');
    renameSync(database, `${database}.away`);
    const gone = await runCli(['verify', data]);
    expect(gone.code).toBe(1);
    expect(gone.output).toContain('The records are gone');
    writeFileSync(database, '');
    expect(await runCli(['verify', data])).toMatchObject({ code: 1, output: expect.stringContaining('no night is in it') });
    renameSync(`${database}.away`, database);
    truncateSync(database, Math.floor(readFileSync(database).length / 2 / 4096) * 4096);
    const damaged = await runCli(['verify', data]);
    expect(damaged.code).toBe(1);
    expect(damaged.output).toContain('The database is damaged');
  });

  it('ends with 2 where there is nothing to check', async () => {
    const { folder, data } = folders.make();
    expect(await runCli(['verify', data])).toMatchObject({ code: 2, output: '', errors: expect.stringContaining('data') });
    mkdirSync(join(folder, 'empty'));
    expect(await runCli(['verify', join(folder, 'empty')])).toMatchObject({ code: 2, errors: expect.stringContaining('no night') });
  });
});

/** The map picture of a tile, relative to the data folder. */
function fileOf(data: string, tile: number): string {
  const records = openRecords(data, { readOnly: true });
  try {
    const [runId] = records.runIds();
    return records.tile(runId ?? '', tile)?.pictureFile ?? '';
  } finally {
    records.close();
  }
}
