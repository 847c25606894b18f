import Database from 'better-sqlite3';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { openRecords, tilePictureFile, verifyRecords, type NewVerdict, type RecordsStore } from '../../../../daemon/records/index.ts';
import { chipRecord, commit, flake, folders, runRecord, writeFile } from '../samples.ts';

/** Protects: whatever is changed in the database behind Nightjar's back, the check names the row and the kind of harm. Laws of our own. */

const { make, clear } = folders();
const opened: RecordsStore[] = [];
afterEach(() => {
  for (const records of opened.splice(0)) records.close();
  clear();
});

const crop = 'runs/night-1/crops/000004-0.png';
const verdict: NewVerdict = {
  flakeId: 'F-4', chip: 'K-07', terrace: 0, atUm: { xUm: 400, yUm: 300 }, contrast: [0.1], contrastError: [0.01], predictedLayers: 1, predictedProbability: 0.9,
  layers: 1, source: 'shownEye', initials: 't.s.', atMs: 5, under: { opticalPath: 'survey', material: 'graphene', substrate: 'sio2-si', oxideNm: 290 },
};

/** A finished night with a row in every table. */
function wholeNight(): RecordsStore {
  const records = openRecords(make());
  opened.push(records);
  const { directory } = records;
  records.beginRun(runRecord);
  records.setRunState('night-1', 'scanning', 'prepared', 1);
  records.saveChip('night-1', chipRecord('K-07'));
  for (let tile = 0; tile < 10; tile++) {
    const pictureFile = writeFile(directory, tilePictureFile('night-1', tile), `picture ${tile}`);
    const crops = tile === 4 ? [{ flakeId: 'F-4', tile, file: writeFile(directory, crop, 'crop'), widthPx: 3, heightPx: 2, centreUm: { xUm: 1, yUm: 2 }, cameraToStageUm: [1, 0, 0, 1] as const }] : [];
    if (tile === 7) records.commitTile('night-1', { ...commit(7), flakes: [], tile: { ...commit(7).tile, outcome: 'skipped', reason: 'noFrame' } });
    else records.commitTile('night-1', { ...commit(tile), crops, tile: { ...commit(tile).tile, pictureFile } });
  }
  records.commitVerdicts('night-1', { given: [verdict], withdrawn: [], flakes: [], chips: [], atMs: 5 });
  records.commitCloseUp('night-1', { flakeId: 'F-4', chip: 'K-07', opticalPath: 'closeUp', outcome: 'skipped', reason: 'focusNotFound', takenAtMs: 6, tookMs: 1 });
  records.addEvent('night-1', { atMs: 2, kind: 'run', text: 'scanning' });
  records.setRunState('night-1', 'finished', 'done', 9);
  return records;
}

function change(records: RecordsStore, sql: string): void {
  const db = new Database(join(records.directory, 'nightjar.sqlite'));
  db.pragma('foreign_keys = OFF');
  db.exec(sql);
  db.close();
}

describe('the check of the rows', () => {
  it('is content with a whole night and has read all of it', async () => {
    const report = await verifyRecords(wholeNight());
    expect(report.problems).toEqual([]);
    // 1 run, 3 states, 1 chip, 10 tiles, 9 flakes, 1 crop, 10 files, 1 event, 1 verdict, 1 close-up.
    expect(report).toMatchObject({ sound: true, rowsRead: 38, filesChecked: 10 });
  });

  it.each([
    ['unreadableRow', 'table tile', "UPDATE tile SET detections = '[' WHERE tile = 2"],
    ['unreadableRow', 'table flake', "UPDATE flake SET flake = '{}' WHERE id = 'F-3'"],
    ['unreadableRow', 'table chip', "UPDATE chip SET ladder = 'x'"],
    ['unreadableRow', 'table crop', "UPDATE crop SET camera_to_stage_um = '[1]'"],
    ['unreadableRow', 'table transition', "UPDATE transition SET state = 'asleep' WHERE state = 'scanning'"],
    ['unreadableRow', 'table verdict', "UPDATE verdict SET contrast = '1'"],
    ['unreadableRow', 'table close_up', "UPDATE close_up SET outcome = 'perhaps'"],
    ['unreadableRow', 'table run', "UPDATE run SET plan = '{}'"],
    ['outsidePlan', 'tile 40', 'UPDATE tile SET tile = 40 WHERE tile = 9'],
    ['outsidePlan', 'tile 3', "UPDATE tile SET chip = 'K-08' WHERE tile = 3"],
    ['outsidePlan', 'chip K-09', "UPDATE chip SET chip = 'K-09'"],
    ['noReason', 'tile 7', 'UPDATE tile SET reason = NULL WHERE tile = 7'],
    ['noReason', 'close-up of flake F-4', 'UPDATE close_up SET reason = NULL'],
    ['tilesMissing', 'tiles', 'DELETE FROM tile WHERE tile = 7'],
    ['dangling', 'flake F-2', "UPDATE flake SET flake = json_set(flake, '$.bestTile', 7) WHERE id = 'F-2'"],
    ['dangling', 'flake F-2', "UPDATE flake SET flake = json_set(flake, '$.tiles', json('[2, 77]')) WHERE id = 'F-2'"],
    ['dangling', 'crop of flake F-4', "DELETE FROM flake WHERE id = 'F-4'"],
    ['dangling', 'close-up of flake F-4', "DELETE FROM flake WHERE id = 'F-4'"],
    ['dangling', 'crop of flake F-4', 'UPDATE crop SET tile = 7'],
    ['dangling', 'verdict 1', "UPDATE verdict SET flake_id = 'F-99', x_um = 9000"],
    ['dangling', 'tile 5', "DELETE FROM file WHERE path LIKE '%000005.webp'"],
    ['dangling', 'nightjar.sqlite', "DELETE FROM file WHERE path LIKE '%000005.webp'"],
    ['story', 'night night-1', "DELETE FROM transition WHERE state = 'preflight'"],
    ['story', 'night night-1', "DELETE FROM transition WHERE state = 'finished'"],
    ['story', 'night night-1', "UPDATE run SET state = 'scanning'"],
    ['story', 'night night-1', "INSERT INTO transition (run_id, at_ms, state, cause) VALUES ('night-1', 10, 'scanning', 'prepared'), ('night-1', 11, 'finished', 'done')"],
    ['fileMissing', 'runs/../../secret', "UPDATE file SET path = 'runs/../../secret' WHERE path LIKE '%000005.webp'"],
    ['fileChanged', 'runs/night-1/tiles/000005.webp', "UPDATE file SET bytes = 3 WHERE path LIKE '%000005.webp'"],
  ])('finds %s at %s after %s', async (kind, where, sql) => {
    const records = wholeNight();
    change(records, sql);
    const { sound, problems } = await verifyRecords(records);
    expect(sound).toBe(false);
    expect(problems.filter((each) => each.kind === kind && each.where.includes(where)), JSON.stringify(problems)).not.toEqual([]);
  });

  it('lets a verdict stand whose flake was merged since, as long as its place is on the chip', async () => {
    const records = wholeNight();
    change(records, "UPDATE verdict SET flake_id = 'F-99'");
    expect((await verifyRecords(records)).problems).toEqual([]);
  });

  it('names every damaged row, not only the first, and still judges the others', async () => {
    const records = wholeNight();
    change(records, "UPDATE tile SET detections = '[' WHERE tile IN (2, 3); UPDATE tile SET reason = '' WHERE tile = 7");
    const { problems } = await verifyRecords(records);
    expect(problems.filter(({ kind }) => kind === 'unreadableRow').map(({ where }) => where)).toEqual(['table tile, run_id night-1, tile 2, chip K-07', 'table tile, run_id night-1, tile 3, chip K-07']);
    expect(problems.filter(({ kind }) => kind === 'noReason')).toHaveLength(1);
  });

  it('an unfinished night may have tiles to come', async () => {
    const records = wholeNight();
    change(records, "DELETE FROM tile WHERE tile = 7; UPDATE run SET state = 'parked'; UPDATE transition SET state = 'parked' WHERE state = 'finished'");
    expect((await verifyRecords(records)).problems).toEqual([]);
  });

  it('with --deep finds a picture that is none, and one of another size', async () => {
    const records = wholeNight();
    records.updateFlakes('night-1', [flake('F-4', 4)]);
    const { problems } = await verifyRecords(records, { deep: true });
    expect(new Set(problems.map(({ kind }) => kind))).toEqual(new Set(['notAPicture']));
    expect(problems).toHaveLength(10);
  });
});
