import { layersText } from '../cli/words.ts';
import type { RecordsStore } from '../records/types.ts';
import { absoluteFile } from '../records/layout.ts';
import type { NightBoard } from '../run/board.ts';
import type { OpenedNight } from '../run/openNight.ts';
import type { FlakeView } from '../server/messages.ts';
import { courseOf } from './course.ts';
import { mailPicture } from './pictures.ts';
import { cautionsFor, reasonsFor, terraceThatCounts } from './reasons.ts';
import type { NightCourse, NightFigures, TellingFlake, TellingPicture } from './types.ts';

/** Where a night's figures are read off. */
export interface NightSources {
  readonly board: Pick<NightBoard, 'snapshot' | 'flagged' | 'flake'>;
  readonly records: Pick<RecordsStore, 'directory' | 'tileHeads' | 'transitions' | 'closeUps' | 'crop'>;
  readonly opened: OpenedNight;
}

/** The figures as they stand on the board. */
export function figuresOf({ board, opened }: NightSources): NightFigures {
  const { progress } = board.snapshot();
  const { sheet, config, plan, runId } = opened;
  return {
    runId,
    title: sheet.title,
    instrument: config.instrument,
    operator: sheet.operator.initials,
    tilesPlanned: plan.tileCount,
    tilesDone: progress?.tilesDone ?? 0,
    tilesSkipped: progress?.tilesSkipped ?? 0,
    flagged: progress?.flagged ?? 0,
  };
}

export function courseFrom({ records, opened }: NightSources): NightCourse {
  const { runId, plan } = opened;
  return courseOf({ forecastS: plan.forecastS, transitions: records.transitions(runId), tiles: records.tileHeads(runId), closeUps: records.closeUps(runId) });
}

/** The flagged flakes, best first, as many as a message has room for. */
export function bestFlakes({ board }: NightSources, most: number): readonly TellingFlake[] {
  return board.flagged().slice(0, most).flatMap(({ id }) => {
    const view = board.flake(id);
    return view ? [flakeOf(view)] : [];
  });
}

function flakeOf({ flake, chipXUm, chipYUm }: FlakeView): TellingFlake {
  const call = terraceThatCounts(flake)?.call;
  return {
    id: flake.id,
    chip: flake.chip,
    layersText: call ? layersText(call) : 'thick',
    layers: flake.layers,
    probability: call?.thickness?.weight ?? call?.probability ?? 0,
    usableUm: flake.usableUm,
    areaUm2: flake.areaUm2,
    chipXUm,
    chipYUm,
    reasons: reasonsFor(flake),
    cautions: cautionsFor(flake),
  };
}

/** Pictures of these flakes: the close-up where there is one, else the one cut from the scan. One that cannot be read is left out. */
export async function picturesOf({ records, opened: { runId } }: NightSources, flakes: readonly TellingFlake[]): Promise<ReadonlyMap<string, TellingPicture>> {
  const closeUps = new Map(records.closeUps(runId).flatMap((closeUp) => (closeUp.outcome === 'done' ? [[closeUp.flakeId, closeUp.picture] as const] : [])));
  const pictures = new Map<string, TellingPicture>();
  for (const [n, { id }] of flakes.entries()) {
    const source = closeUps.get(id) ?? records.crop(runId, id);
    const file = source && absoluteFile(records.directory, source.file);
    const picture = file === undefined ? undefined : await mailPicture(`flake-${n + 1}`, file, source?.cameraToStageUm ?? [1, 0, 0, 1]);
    if (picture) pictures.set(id, picture);
  }
  return pictures;
}
