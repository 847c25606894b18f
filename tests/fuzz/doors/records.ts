import Database from 'better-sqlite3';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import fc from 'fast-check';
import { openRecords, verifyRecords, type RecordsStore } from '../../../daemon/records/index.ts';
import { databaseFile } from '../../../daemon/records/layout.ts';
import { recordedNight } from '../../../daemon/run/openNight.ts';
import { planNight } from '../../../daemon/run/planNight.ts';
import { parseInstrument, parseRunSheet } from '../../../daemon/config/index.ts';
import { instrumentText, runSheetText } from '../../daemon/config/samples.ts';
import { chipRecord, commit, flake, runRecord, writeFile } from '../../daemon/records/samples.ts';
import { contentOf, inFolder } from '../folder.ts';
import { oddNumber, oddText, oddValue } from '../hostile.ts';
import { answerOf, hold, trial, type Door } from '../law.ts';
import { mutatedBytes, mutatedText, mutatedTree } from '../mutate.ts';

const RUN = 'night-1';

/** Records with something in every table. */
function fill(directory: string): void {
  const records = openRecords(directory);
  const plan = planNight(parseRunSheet(runSheetText, 'tonight.yaml'), parseInstrument(instrumentText, 'bench.yaml'));
  records.beginRun({ ...runRecord, id: RUN, runSheetText, instrumentText, plan });
  records.saveChip(RUN, { ...chipRecord('K-07', [{ atUm: { xUm: 0, yUm: 0 }, zUm: 4000, errorUm: 0.1 }]), flat: { columns: 1, rows: 1, channels: 1, frames: 3, values: [1] }, calibration: { terraces: 2, labels: 0, oxideNm: 290, oxideErrorNm: 1, scale: [1, 1, 1] } });
  const { tile, ...rest } = commit(0);
  const picture = writeFile(directory, `runs/${RUN}/tiles/000000.webp`, 'picture');
  const crop = writeFile(directory, `runs/${RUN}/crops/F-0-1.png`, 'crop');
  records.commitTile(RUN, { ...rest, tile: { ...tile, pictureFile: picture }, flakes: [flake('F-0', 0)], crops: [{ flakeId: 'F-0', tile: 0, file: crop, widthPx: 4, heightPx: 4, centreUm: { xUm: 0, yUm: 0 }, cameraToStageUm: [1, 0, 0, 1] }] });
  records.addEvent(RUN, { atMs: 1, kind: 'note', text: 'begun' });
  const under = { opticalPath: 'search', material: 'graphene', substrate: 'sio2-si', oxideNm: 290 };
  records.commitVerdicts(RUN, { atMs: 2, withdrawn: [], flakes: [], chips: [], given: [{ flakeId: 'F-0', chip: 'K-07', terrace: 0, atUm: { xUm: 0, yUm: 0 }, contrast: [0.1], contrastError: [0.01], predictedLayers: 1, predictedProbability: 0.9, layers: 1, source: 'afm', initials: 'm.o.', atMs: 2, under }] });
  records.commitCloseUp(RUN, { flakeId: 'F-0', chip: 'K-07', opticalPath: 'close', outcome: 'skipped', reason: 'no time', takenAtMs: 3, tookMs: 1 });
  records.close();
}

const sound = await inFolder((folder) => {
  fill(folder);
  const db = new Database(join(folder, databaseFile));
  db.pragma('wal_checkpoint(TRUNCATE)');
  db.pragma('journal_mode = DELETE');
  db.close();
  return readFileSync(join(folder, databaseFile));
});

/** Everything that is read of a night, as the page, a resumed scan and a remount read it. */
async function readAll(records: RecordsStore): Promise<void> {
  const asked: readonly (() => unknown)[] = [
    () => records.runIds(), () => records.transitions(RUN), () => records.chips(RUN), () => records.tiles(RUN), () => records.tile(RUN, 0), () => records.tileCount(RUN), () => records.flakes(RUN), () => records.crop(RUN, 'F-0'),
    () => records.events(RUN), () => records.verdicts(RUN), () => records.closeUps(RUN), () => records.storedFiles(RUN), () => records.examine(), () => verifyRecords(records),
    () => {
      const run = records.latestRun();
      return run && recordedNight(run);
    },
  ];
  for (const ask of asked) await answerOf(ask);
}

async function look(folder: string): Promise<void> {
  const before = contentOf(folder);
  const records = await answerOf(() => openRecords(folder, { readOnly: true }), [folder]);
  if (records) {
    await readAll(records);
    records.close();
  }
  hold(contentOf(folder) === before, 'nothing is changed by looking');
}

interface Place {
  readonly table: string;
  readonly column: string;
  readonly value: string | number | null;
}

function placesOf(): readonly Place[] {
  const db = new Database(sound);
  try {
    const tables = ['run', 'transition', 'chip', 'tile', 'flake', 'crop', 'file', 'event', 'verdict', 'close_up'];
    return tables.flatMap((table) => Object.entries(db.prepare(`SELECT * FROM "${table}" LIMIT 1`).get() as Record<string, string | number | null>).map(([column, value]) => ({ table, column, value })));
  } finally {
    db.close();
  }
}

const places = placesOf();

function damagedText(value: string): fc.Arbitrary<string> {
  const tree = /^[[{]/.test(value) ? [mutatedTree(JSON.parse(value)).map((each) => JSON.stringify(each) ?? '')] : [];
  return fc.oneof(...tree, ...tree, mutatedText(value), oddText, oddValue.map((each) => JSON.stringify(each) ?? ''));
}

const damage = fc.constantFrom(...places).chain(({ table, column, value }) => {
  const others = typeof value === 'string' ? damagedText(value) : fc.oneof(oddNumber, fc.constantFrom(null, 2 ** 40, -1, 0.5));
  return others.map((other) => ({ table, column, other }));
});

/** One value of the records replaced by another, by whatever the table takes. */
async function damaged(all: readonly { readonly table: string; readonly column: string; readonly other: string | number | null }[]): Promise<void> {
  await inFolder(async (folder) => {
    writeFileSync(join(folder, databaseFile), sound);
    const db = new Database(join(folder, databaseFile));
    db.pragma('foreign_keys = OFF');
    for (const { table, column, other } of all) {
      try {
        db.prepare(`UPDATE "${table}" SET "${column}" = ?`).run(other);
      } catch (error) {
        // The table itself refuses it: it can never stand there.
        if (!(error instanceof Database.SqliteError)) throw error;
      }
    }
    db.close();
    await look(folder);
  });
}

async function damagedFile(bytes: Uint8Array): Promise<void> {
  await inFolder(async (folder) => {
    writeFileSync(join(folder, databaseFile), bytes);
    await look(folder);
    const records = await answerOf(() => openRecords(folder), [folder]);
    if (!records) return;
    await readAll(records);
    await answerOf(() => records.addEvent(RUN, { atMs: 1, kind: 'note', text: 'more' }));
    records.close();
  });
}

export const records: Door = {
  name: 'records',
  trials: [
    trial('other values in its rows', fc.array(damage, { minLength: 1, maxLength: 3 }), damaged, 1.5),
    trial('another file', fc.uint8Array({ maxLength: 3000 }), damagedFile, 0.3),
    trial('a file with other bytes', mutatedBytes(sound), damagedFile, 0.5),
  ],
};
