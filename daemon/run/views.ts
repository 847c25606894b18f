import type { Flake } from '../../planner/flakes/types.ts';
import { chipFrameOf, toChip, type ChipFrame } from '../../planner/frames/chipFrame.ts';
import { fitChipFrame } from '../../planner/frames/marks.ts';
import type { PlannedChip, Tile } from '../../planner/plan/types.ts';
import { opticalPathFor, outlineFor } from '../config/resolve.ts';
import type { ChipSheet } from '../config/runSheet.ts';
import { NightjarError } from '../errors/index.ts';
import type { InstrumentConfig } from '../config/instrument.ts';
import type { CloseUpRecord, CropRecord, TileHead } from '../records/types.ts';
import type { ChipView, FlakeView, RunView, TileView } from '../server/messages.ts';
import type { NightContext } from './context.ts';
import { reasonWords } from './sentences.ts';

/** Marks whose distance differs by more than this are not those of this chip; a stage's scale error of 0.3 % over 10 mm is 30 um. */
const allowedMisfitUm = 50;

/** Each chip's own frame of reference: from its marks where the run sheet has them, else from its outline. */
export function chipFrames({ sheet }: Pick<NightContext, 'sheet'>): ReadonlyMap<string, ChipFrame> {
  return new Map(sheet.chips.map((chip) => [chip.name, chipFrame(chip)]));
}

/** Throws `marksRefused` when the marks do not settle the frame; the run sheet is refused for it before anything moves. */
function chipFrame({ name, outline, marks }: ChipSheet): ChipFrame {
  if (!marks) return chipFrameOf(outlineFor(outline));
  const pairs = marks.map(({ chipUm, stageUm }) => ({ chipUm: { xUm: chipUm[0], yUm: chipUm[1] }, stageUm: { xUm: stageUm[0], yUm: stageUm[1] } }));
  const result = fitChipFrame(pairs, allowedMisfitUm);
  if (result.ok) return result.frame;
  throw new NightjarError('marksRefused', { chip: name, ...result.refusal });
}

/** What the page is told of a night before anything is found. */
type NightHead = Pick<NightContext, 'runId' | 'sheet' | 'config' | 'path' | 'plan'>;

/** The night's head for the page. */
export function runView(context: NightHead, frames: ReadonlyMap<string, ChipFrame>, startedAtMs: number): RunView {
  const { sheet, config, path, plan } = context;
  return {
    runId: context.runId,
    title: sheet.title,
    operator: sheet.operator.initials,
    instrument: config.instrument,
    opticalPath: `${path.name}: ${path.magnification}×/${path.numericalAperture.toFixed(2)}`,
    simulated: config.stage.driver === 'simulated',
    fieldWidthUm: plan.fieldWidthUm,
    fieldHeightUm: plan.fieldHeightUm,
    frameWidthPx: config.camera.widthPx,
    frameHeightPx: config.camera.heightPx,
    cameraToStageUm: path.cameraToStageUm,
    chips: plan.chips.map((chip) => chipView(chip, context, frames)),
    startedAtMs,
    ladders: {},
    calibrations: {},
    light: { lamp: config.lamp.kind, numericalAperture: path.illuminationNa, filter: path.filter, pixelUm: path.pixelUm },
  };
}

function chipView(chip: PlannedChip, context: NightHead, frames: ReadonlyMap<string, ChipFrame>): ChipView {
  const sheet = context.sheet.chips.find((each) => each.name === chip.name);
  const frame = frames.get(chip.name);
  return {
    name: chip.name,
    material: sheet?.material ?? '',
    oxideNm: sheet?.oxideNm ?? 0,
    outlineUm: chip.outlineUm,
    ...(chip.skipUm ? { skipUm: chip.skipUm } : {}),
    originUm: frame?.originUm ?? { xUm: 0, yUm: 0 },
    angleDeg: frame?.angleDeg ?? 0,
    tiles: chip.tiles.length,
    tilesDone: 0,
  };
}

/** Where a page finds a picture of the records. */
function addressOf(file: string): string {
  // As one plain string: the page keeps thousands of them, and a template would keep its pieces as well.
  return ['/pictures', file].join('/');
}

export function plannedTileView(tile: Tile): TileView {
  return { index: tile.index, chip: tile.chip, centreUm: tile.centreUm, state: 'planned' };
}

export function tileView(record: TileHead): TileView {
  return {
    index: record.tile,
    chip: record.chip,
    centreUm: record.centreUm,
    state: record.outcome,
    ...(record.reason === undefined ? {} : { reason: reasonWords(record.reason) }),
    ...(record.fault === undefined ? {} : { fault: record.fault }),
    ...(record.pictureFile === undefined ? {} : { picture: addressOf(record.pictureFile) }),
  };
}

export function flakeView(flake: Flake, crop: CropRecord | undefined, frame: ChipFrame | undefined): FlakeView {
  const place = frame ? toChip(frame, flake.centreUm) : { xUm: flake.centreUm.xUm, yUm: flake.centreUm.yUm };
  return {
    flake,
    chipXUm: place.xUm,
    chipYUm: place.yUm,
    ...(crop ? { crop: { picture: addressOf(crop.file), widthPx: crop.widthPx, heightPx: crop.heightPx, centreUm: crop.centreUm, cameraToStageUm: crop.cameraToStageUm } } : {}),
  };
}

/** The same flake with what its close-up shows, where there is one. */
export function withCloseUp(view: FlakeView, closeUp: CloseUpRecord | undefined, config: InstrumentConfig): FlakeView {
  if (closeUp?.outcome !== 'done') return view;
  const { magnification, numericalAperture } = opticalPathFor(closeUp.opticalPath, config);
  const { file, widthPx, heightPx, centreUm, cameraToStageUm } = closeUp.picture;
  const optics = `${magnification}×/${numericalAperture.toFixed(2)}`;
  return { ...view, closeUp: { picture: addressOf(file), widthPx, heightPx, centreUm, cameraToStageUm, optics, terraces: closeUp.terraces } };
}
