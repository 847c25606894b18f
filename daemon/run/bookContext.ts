import type { BookContext } from '../../planner/flakes/context.ts';
import type { LabelledContrast } from '../../planner/layers/types.ts';
import { soughtOn } from '../config/chipMaterial.ts';
import type { Circumstances, TileRecord, VerdictCommit } from '../records/types.ts';
import type { NightContext } from './context.ts';

/** What a night's chips are read with: its files and the records, but no instrument. */
export type NightToRead = Pick<NightContext, 'runId' | 'records' | 'plan' | 'sheet' | 'config' | 'path'>;

/** What a layer number given on this chip says something of: the same light on the same kind of wafer. */
export function circumstancesOf({ sheet, path }: Pick<NightContext, 'sheet' | 'path'>, chip: string): Circumstances {
  const wanted = sheet.chips.find((each) => each.name === chip);
  return { opticalPath: path.name, material: wanted?.material ?? 'graphene', substrate: wanted?.substrate ?? 'sio2-si', oxideNm: wanted?.oxideNm ?? 0 };
}

/** The layer numbers in force that calibrate this chip, of all nights in the records. `pending` are verdicts about to be written. */
export function labelsFor(context: NightToRead, chip: string, pending?: Pick<VerdictCommit, 'given' | 'withdrawn'>): readonly LabelledContrast[] {
  return context.records.labels(circumstancesOf(context, chip), pending);
}

/** What a chip's flakes are read with, from the run sheet, the instrument and what people have said so far. */
export function bookContext(context: NightToRead, chip: string, labelled: readonly LabelledContrast[] = labelsFor(context, chip)): BookContext {
  const { sheet, config, path } = context;
  return { ...soughtOn(sheet, chip), chip, numericalAperture: path.illuminationNa, lamp: config.lamp.kind, whiteBalance: config.camera.whiteBalance, labelled };
}

/** Whether a tile's frame had bare oxide in it. */
export function showsBare(tile: TileRecord): boolean {
  return tile.outcome === 'done' && tile.fault === undefined && tile.substrate.length > 0;
}

/** The same as the run took: of the chip's recorded tiles the first that shows bare oxide. */
export function recordedBare({ records, runId, plan }: NightToRead, chip: string): Pick<BookContext, 'bare'> {
  for (const { index } of plan.chips.find(({ name }) => name === chip)?.tiles ?? []) {
    const tile = records.tile(runId, index);
    if (tile && showsBare(tile)) return { bare: tile.substrate };
  }
  return {};
}
