import type { FocusPoint } from '../../planner/focus/surface.ts';
import type { Detection } from '../../planner/flakes/types.ts';
import { afterReread, dueForReread, emptyBook, joinTile, ladderRequest, rereadWith, type Book, type BookChange } from '../../planner/flakes/book.ts';
import { pack, unpack, type Packed } from '../../planner/flakes/packing.ts';
import { fitRequest, type LadderRequest } from '../../planner/flakes/samples.ts';
import type { ContrastSample, Ladder } from '../../planner/layers/types.ts';
import type { PlannedChip } from '../../planner/plan/types.ts';
import type { FramePose, StagePoint } from '../../planner/units/index.ts';
import { NightjarError } from '../errors/index.ts';
import type { CalibrationRecord, ChipRecord, TileRecord } from '../records/types.ts';
import { addOutliers, badSamples, bothSets, noBadSamples, type BadSamples } from '../vision/badSamples.ts';
import type { DarkReading } from '../vision/darkFrame.ts';
import { addToFlatField, emptyFlatField, flatFieldOf, type FlatFieldState } from '../vision/flatField.ts';
import { addSightings, noFixedSpots, rejectFixed, type FixedSpots } from '../vision/fixedSpots.ts';
import type { FlatField, FrameMeasurement, OpticalContext } from '../vision/types.ts';
import { bookContext, labelsFor, showsBare } from './bookContext.ts';
import { calibrationOf, rungsShown } from './calibration.ts';
import type { NightContext } from './context.ts';
import { poseOf } from './pose.ts';

/** Up to so many frames every one improves the flat field at once; later every few. */
const flatKeptUpTo = 8;
const flatEvery = 8;

/** What is known of one chip while it is scanned. Changed in tile order only, by one writer. */
interface ChipState {
  readonly chip: PlannedChip;
  book: Book;
  grids: FlatFieldState;
  /** Made from the grids; not anew for every frame, since its medians take time on the thread that drives the stage. */
  flat: FlatField | undefined;
  points: readonly FocusPoint[];
  /** Level of bare oxide as last seen. */
  substrate: readonly number[];
  /** Tiles not yet recorded. */
  open: number;
  /** Once there are none, this takes the place of the book's ladder. */
  shown: ShownLadder | undefined;
}

/** What is kept of the ladder of a chip that is done: a fitted one takes megabytes, and what it was fitted to makes it again. */
interface ShownLadder {
  readonly rungs: readonly (readonly number[])[];
  readonly calibration: CalibrationRecord;
  readonly request: Omit<LadderRequest, 'samples'> & { readonly samples: Packed<readonly ContrastSample[]> };
}

type Change = Omit<BookChange, 'book'>;

/** A tile that has joined its chip's flakes, with what is to be done before it can be recorded. */
export interface Joined {
  readonly chip: string;
  readonly change: BookChange;
  readonly isDue: boolean;
  readonly request?: LadderRequest;
}

/** The one place where flat field, ladder and flakes grow from tile to tile. */
export class ChipStates {
  private readonly context: NightContext;
  private readonly states = new Map<string, ChipState>();
  private dark: DarkReading | undefined;
  private bad: BadSamples = noBadSamples;
  private fixed: FixedSpots = noFixedSpots;

  constructor(context: NightContext) {
    this.context = context;
    for (const chip of context.plan.chips) this.states.set(chip.name, { chip, book: emptyBook(bookContext(context, chip.name)), grids: emptyFlatField, flat: undefined, points: [], substrate: [], open: chip.tiles.length, shown: undefined });
  }

  /** The chip as planned. Throws `internal` for a name that the plan does not know. */
  chip(name: string): PlannedChip {
    return this.of(name).chip;
  }

  setFocus(name: string, points: readonly FocusPoint[]): void {
    this.of(name).points = points;
  }

  /** What is kept of a chip beside its tiles, under the optical path that it belongs to. */
  record(name: string): ChipRecord {
    const { points, flat } = this.of(name);
    const calibration = this.calibration(name);
    return {
      chip: name,
      opticalPath: this.context.path.name,
      focusPoints: points,
      dark: this.dark?.levels ?? [],
      ladder: this.ladder(name),
      ...(calibration ? { calibration } : {}),
      ...(flat ? { flat: { ...flat, values: [...flat.values] } } : {}),
    };
  }

  /** True when every tile of the chip is recorded. */
  isDone(name: string): boolean {
    return this.of(name).open === 0;
  }

  /** What frames of this chip are read with as things stand. */
  optics(name: string): OpticalContext {
    const { flat, substrate } = this.of(name);
    const { config, path } = this.context;
    const levels = this.dark?.levels ?? this.noDark();
    const masked = bothSets(this.dark?.hot ?? new Int32Array(0), badSamples(this.bad));
    const plain = { transfer: config.camera.transfer, numericalAperture: path.numericalAperture, dark: this.dark?.perSample ?? levels, flare: levels.map(() => path.strayLight), masked };
    return flat ? { ...plain, flat, substrate } : plain;
  }

  /** A frame of this chip improves the flat field and tells how bright bare oxide is, and which of the camera's samples are bad. */
  addFlat(name: string, measurement: FrameMeasurement): void {
    if (measurement.fault) return;
    const state = this.of(name);
    state.grids = addToFlatField(state.grids, measurement.coarse);
    if (state.grids.frames <= flatKeptUpTo || state.grids.frames % flatEvery === 0) state.flat = flatFieldOf(state.grids);
    state.substrate = measurement.substrate;
    this.bad = addOutliers(this.bad, measurement.outliers);
  }

  /** A frame in focus at a place of its own: what recurs at one place of the frame belongs to the camera. */
  addSightings(measurement: FrameMeasurement, pose: FramePose): void {
    this.fixed = addSightings(this.fixed, measurement.detections, pose);
  }

  /** Detections with those on the camera's own spots marked. */
  judged(detections: readonly Detection[], pose: FramePose): readonly Detection[] {
    return rejectFixed(this.fixed, detections, pose);
  }

  /** What the camera gives without light, per channel; nothing where it was not measured. */
  get darkLevels(): readonly number[] {
    return this.dark?.levels ?? [];
  }

  /** Nothing to be taken off, for each channel. */
  private noDark(): readonly number[] {
    return this.context.instrument.camera.info.pixelFormat.startsWith('mono') ? [0] : [0, 0, 0];
  }

  /** What the camera gives without light; never told where there is no darkness: nothing is taken off then. */
  setDark(dark: DarkReading): void {
    this.dark = dark;
  }

  /**
   * A recorded tile: its detections join the chip's flakes. At some numbers of tiles, the last one among them, all are read again on a
   * ladder that is fitted anew; who does not want to wait for the fit uses {@link join} and {@link settle}.
   */
  add(record: TileRecord): Change {
    const joined = this.join(record);
    return this.settle(joined, joined.request && fitRequest(joined.request));
  }

  /** The first half of {@link add}, with what a ladder is to be fitted to, if that is due. */
  join(record: TileRecord): Joined {
    const state = this.of(record.chip);
    state.open--;
    const isDone = record.outcome === 'done';
    const shown = withBare(state.book, record);
    const begun = shown.ladder ? shown : this.withLabels(shown, record.chip);
    const joined = isDone ? joinTile(begun, record.tile, this.poseOf(record.centreUm), record.detections) : { book: begun, changed: [], removed: [] };
    const isDue = state.open === 0 || (isDone && dueForReread(joined.book));
    const change = isDue ? { ...joined, book: this.withLabels(joined.book, record.chip) } : joined;
    state.book = change.book;
    const request = isDue ? ladderRequest(change.book) : undefined;
    return { chip: record.chip, change, isDue, ...(request ? { request } : {}) };
  }

  /** The second half of {@link add}; nothing of the chip may have been added in between. */
  settle({ chip, change, isDue, request }: Joined, ladder: Ladder | undefined): Change {
    if (!isDue) return change;
    const state = this.of(chip);
    const whole = afterReread(change, rereadWith(change.book, ladder));
    state.book = whole.book;
    if (state.open === 0) putAway(state, request);
    return whole;
  }

  /** Contrast per channel for 0 to 10 layers, as the chip's ladder now stands; empty before the first find. */
  ladder(name: string): readonly (readonly number[])[] {
    const { shown, book: { ladder } } = this.of(name);
    return shown?.rungs ?? (ladder ? rungsShown(ladder) : []);
  }

  /** The chip's ladder itself, fitted once more by a worker where the chip is done; undefined before the first find. */
  async fittedLadder(name: string): Promise<Ladder | undefined> {
    const { shown, book } = this.of(name);
    if (!shown) return book.ladder;
    return this.fit({ ...shown.request, samples: unpack(shown.request.samples) });
  }

  /** Fits a ladder in another thread, or in this one where that fails: it would stand still for a second. */
  async fit(request: LadderRequest): Promise<Ladder> {
    const { pool, log } = this.context;
    return pool.fit(request).catch((error: unknown) => {
      log.warn({ err: error }, 'the contrast ladder is fitted here');
      return fitRequest(request);
    });
  }

  /** What the ladder was fitted to and where it settled; undefined before the first find. */
  calibration(name: string): CalibrationRecord | undefined {
    const { shown, book: { ladder } } = this.of(name);
    return shown?.calibration ?? (ladder && calibrationOf(ladder));
  }

  /** How a frame whose centre is here lies on the stage. */
  poseOf(centreUm: StagePoint): FramePose {
    return poseOf(this.context, centreUm);
  }

  /** What people have said meanwhile: asked where a ladder is about to be fitted, and at no other tile. */
  private withLabels(book: Book, chip: string): Book {
    return { ...book, context: { ...book.context, labelled: labelsFor(this.context, chip) } };
  }

  private of(name: string): ChipState {
    const state = this.states.get(name);
    if (!state) throw new NightjarError('internal', { reason: `the plan has no chip ${name}` });
    return state;
  }
}

/** To a chip that is done nothing is added any more: its views, links, grids and ladder would only fill the memory of a long night. */
function putAway(state: ChipState, request: LadderRequest | undefined): void {
  const { context, ladder } = state.book;
  state.grids = emptyFlatField;
  state.book = { ...emptyBook(context), ...(ladder && !request ? { ladder } : {}) };
  if (ladder && request) state.shown = { rungs: rungsShown(ladder), calibration: calibrationOf(ladder), request: { ...request, samples: pack(request.samples) } };
}

/** The chip's first usable tile says what colour bare oxide has. */
function withBare(book: Book, tile: TileRecord): Book {
  if (book.context.bare !== undefined || !showsBare(tile)) return book;
  return { ...book, context: { ...book.context, bare: tile.substrate } };
}
