import { closeUpTerrace } from '../../planner/closeUps/index.ts';
import type { Flake } from '../../planner/flakes/types.ts';
import { fitFocusSurface, zAtUm, type FocusPoint, type FocusSurface } from '../../planner/focus/surface.ts';
import { secondLight } from '../../planner/layers/secondLight.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import { NightjarError } from '../errors/index.ts';
import type { CloseUpRecord } from '../records/types.ts';
import { bookContext } from '../run/bookContext.ts';
import { changePath } from '../run/changePath.ts';
import type { ChipStates } from '../run/chipStates.ts';
import { addToFlatField, emptyFlatField, flatFieldOf, type FlatFieldState } from '../vision/flatField.ts';
import type { FrameMeasurement, OpticalContext } from '../vision/types.ts';
import { chooseCloseUps, closeUpCandidates, closeUpSeconds } from './choice.ts';
import { seenFrom, type CloseUpContext } from './path.ts';
import { addWitnesses, readCloseUp, readMs, shiftOf, type CloseUpReader } from './reading.ts';
import { shoot, type Shot } from './shot.ts';
import { writeCloseUp } from './writing.ts';

/** Fewer frames than this make no flat field: a flake would leave its own shade in it. */
const leastFlatFrames = 3;

/** What became of a choice, for people. */
export interface CloseUpChoice {
  readonly flakes: readonly string[];
  readonly of: number;
  readonly seconds: number;
}

/** A close-up before it is known what it took. */
type DoneCloseUp = Omit<CloseUpRecord & { readonly outcome: 'done' }, 'tookMs'>;

/** Looks at the best flakes again at high magnification: chooses them, takes them one after another, and keeps to the time for it. */
export class CloseUps {
  readonly context: CloseUpContext;
  private readonly chips: ChipStates;
  private readonly show: (closeUp: CloseUpRecord) => void;
  /** Of the time for close-ups, by those recorded and by changing the objective. */
  private spentMs: number;
  /** By how much focus was found elsewhere than the chip's surface has it: drift, and what the parfocal offset is wrong by. */
  private readonly offsetsUm = new Map<string, number>();
  /** What all close-ups so far say of the light: it is the same over every chip. */
  private readonly witnesses: (readonly number[])[] = [];
  private readonly readers = new Map<string, CloseUpReader>();
  private readonly surfaces = new Map<string, FocusSurface | undefined>();
  private grids: FlatFieldState = emptyFlatField;
  /** Level of bare oxide as last seen, by chip. */
  private readonly substrates = new Map<string, readonly number[]>();
  /** The flakes that are or were looked at again, by id, as they were when the choice was made. */
  private flakes: ReadonlyMap<string, Flake> = new Map();
  /** When the present close-up was begun. */
  private begunMs = 0;

  /** @param show told of each close-up once it is recorded */
  constructor(context: CloseUpContext, chips: ChipStates, show: (closeUp: CloseUpRecord) => void) {
    this.context = context;
    this.chips = chips;
    this.show = show;
    const { records, runId, path } = context;
    this.spentMs = records.closeUps(runId).reduce((sum, each) => sum + (each.opticalPath === path.name ? each.tookMs : 0), 0);
  }

  /** Every tile is recorded by now. The instrument is changed only where there is something to look at. */
  async choose(signal: AbortSignal): Promise<CloseUpChoice> {
    const { context } = this;
    const { clock, stage } = context.instrument;
    const begunMs = clock.now();
    const candidates = closeUpCandidates(context, unrejected(context));
    const { tour, seconds } = chooseCloseUps(context, candidates, seenFrom(context, await stage.position()), this.leftMs() / 1000);
    const { records, runId } = context;
    const concerned = new Set([...tour.map(({ id }) => id), ...records.closeUps(runId).map(({ flakeId }) => flakeId)]);
    this.flakes = new Map([...concerned].flatMap((id) => records.flake(runId, id) ?? []).map((flake) => [flake.id, flake] as const));
    if (tour.length > 0) await this.changePath(signal);
    this.spentMs += clock.now() - begunMs;
    return { flakes: tour.map(({ id }) => id), of: candidates.length, seconds };
  }

  /** Resolves with false when what is left of the time is too short for one more. */
  async take(flakeId: string, signal: AbortSignal): Promise<boolean> {
    const { context } = this;
    const { clock } = context.instrument;
    if (this.leftMs() < 1000 * closeUpSeconds(context)) return false;
    this.begunMs = clock.now();
    const flake = this.flake(flakeId);
    await this.changePath(signal);
    const shot = await this.shootFlake(flake, signal);
    const closeUp = await clock.track(this.readAndWrite(flake, shot), readMs);
    this.record({ ...closeUp, tookMs: clock.now() - this.begunMs });
    return true;
  }

  /** Records that a flake was left out, so that it is named, and not tried again by a resumed night. */
  skip(flakeId: string, reason: string): void {
    const { path, instrument } = this.context;
    const nowMs = instrument.clock.now();
    this.record({ flakeId, chip: this.flake(flakeId).chip, opticalPath: path.name, outcome: 'skipped', reason, takenAtMs: nowMs, tookMs: nowMs - this.begunMs });
  }

  private changePath(signal: AbortSignal): Promise<void> {
    const { instrument, path, travel } = this.context;
    return changePath(instrument, path, travel.safeHeightUm, signal);
  }

  private async shootFlake(flake: Flake, signal: AbortSignal): Promise<Shot> {
    const { context } = this;
    const terrace = closeUpTerrace(flake, bookContext(context, flake.chip));
    const atUm = terrace?.inscribedCentreUm ?? flake.centreUm;
    const surfaceZUm = this.surfaceZUm(flake, atUm);
    const expectedZUm = surfaceZUm + (this.offsetsUm.get(flake.chip) ?? 0);
    const shot = await shoot(context, { chip: this.chips.chip(flake.chip), outlineUm: flake.terraces.flatMap((t) => t.outlineUm), atUm, expectedZUm }, signal);
    this.offsetsUm.set(flake.chip, shot.focusZUm - surfaceZUm);
    return shot;
  }

  private async readAndWrite(flake: Flake, shot: Shot): Promise<DoneCloseUp> {
    const { measurement } = await this.context.pool.run({ tile: flake.bestTile, input: { frame: shot.frame, pose: shot.pose, optics: this.optics(flake.chip) } });
    this.learn(flake.chip, measurement);
    const reader = await this.reader(flake.chip);
    const terraces = measurement.fault || !reader ? [] : readCloseUp(flake, measurement.detections, reader);
    if (reader) addWitnesses(reader, flake, terraces);
    // Places are those of the first pass: what the two objectives' offsets are wrong by shows in the flake itself.
    const shift = shiftOf(flake, measurement.detections);
    const { centreUm: seenAtUm } = shot.pose;
    const pose = { ...shot.pose, centreUm: { xUm: seenAtUm.xUm - shift.xUm, yUm: seenAtUm.yUm - shift.yUm } };
    const picture = await writeCloseUp(this.context, flake.id, flake.terraces.flatMap((t) => t.outlineUm), { ...shot, pose }, measurement.fault ? [] : measurement.substrate);
    const { zUm, sharpness, leastSharpness, frame } = shot;
    return { flakeId: flake.id, chip: flake.chip, opticalPath: this.context.path.name, outcome: 'done', takenAtMs: frame.takenAtMs, centreUm: pose.centreUm, zUm, sharpness, leastSharpness, picture, terraces };
  }

  private record(closeUp: CloseUpRecord): void {
    const { records, runId } = this.context;
    this.spentMs += closeUp.tookMs;
    records.commitCloseUp(runId, closeUp);
    this.show(closeUp);
  }

  /** As tiles of this chip are read, but with the light of this path. */
  private optics(chip: string): OpticalContext {
    const { path } = this.context;
    const { flat: _flat, substrate: _substrate, ...camera } = this.chips.optics(chip);
    const flat = this.grids.frames >= leastFlatFrames ? flatFieldOf(this.grids) : undefined;
    const substrate = this.substrates.get(chip);
    return { ...camera, numericalAperture: path.numericalAperture, flare: camera.flare.map(() => path.strayLight), ...(flat ? { flat } : {}), ...(substrate ? { substrate } : {}) };
  }

  /** A chip's ladder through this objective; a resumed night learns the light again from what is recorded. None where nothing was found. */
  private async reader(chip: string): Promise<CloseUpReader | undefined> {
    const known = this.readers.get(chip);
    const ladder = known ? undefined : await this.chips.fittedLadder(chip);
    if (known || !ladder) return known;
    const { path, records, runId } = this.context;
    const reader: CloseUpReader = { ladder, light: secondLight(ladder, path.illuminationNa), witnesses: this.witnesses };
    for (const each of records.closeUps(runId)) {
      const flake = each.chip === chip && each.opticalPath === path.name ? this.flakes.get(each.flakeId) : undefined;
      if (flake && each.outcome === 'done') addWitnesses(reader, flake, each.terraces);
    }
    this.readers.set(chip, reader);
    return reader;
  }

  /** What the frames tell of the light: flat field and level of bare oxide. */
  private learn(chip: string, measurement: FrameMeasurement): void {
    if (measurement.fault) return;
    this.grids = addToFlatField(this.grids, measurement.coarse);
    this.substrates.set(chip, measurement.substrate);
  }

  /** Focus of this path's objective by the surface that was measured for the tiles; where there is none, by the flake's own tile. */
  private surfaceZUm(flake: Flake, atUm: StagePoint): number {
    const { records, runId, path, survey } = this.context;
    if (!this.surfaces.has(flake.chip)) this.surfaces.set(flake.chip, surfaceOf(records.chips(runId).find(({ chip }) => chip === flake.chip)?.focusPoints ?? []));
    const surface = this.surfaces.get(flake.chip);
    const surveyZUm = surface ? zAtUm(surface, atUm) : records.tile(runId, flake.bestTile)?.zUm;
    if (surveyZUm === undefined) throw new NightjarError('focusNotFound', { chip: flake.chip, triedUm: 0 });
    return surveyZUm + path.parfocalUm - survey.parfocalUm;
  }

  private flake(flakeId: string): Flake {
    const flake = this.flakes.get(flakeId);
    if (!flake) throw new NightjarError('noSuchFlake', { flakeId });
    return flake;
  }

  private leftMs(): number {
    return this.context.wanted.budgetMin * 60_000 - this.spentMs;
  }
}

/** What may be worth a second look, one at a time: all flakes of a long night would fill the memory. */
function* unrejected({ records, runId }: CloseUpContext): Generator<Flake> {
  for (const { id, verdict } of records.flakeHeads(runId)) {
    const flake = verdict === 'rejected' ? undefined : records.flake(runId, id);
    if (flake) yield flake;
  }
}

function surfaceOf(points: readonly FocusPoint[]): FocusSurface | undefined {
  const fitted = fitFocusSurface(points);
  return fitted.ok ? fitted.surface : undefined;
}
