import { mkdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { NightjarError } from '../../daemon/errors/index.ts';
import type { FeedMessage, NightControls, NightFeed, NightPictures } from '../../daemon/server/index.ts';
import type { ChipView, EventView, FlakeView, ProgressView, RunView, TileView, VerdictView } from '../../daemon/server/messages.ts';
import type { RunState } from '../../daemon/records/types.ts';
import { stageToPixel } from '../../planner/units/index.ts';
import type { FramePose, StagePoint } from '../../planner/units/index.ts';
import { CAMERA_TO_STAGE, contrastOf, fakeChips, fakeDirt, fakeFlakes, fakeTerraces, FRAME, seeded } from './fakeChips.ts';
import type { FakeChip, FakeFlake } from './fakeChips.ts';
import { fakeFrame } from './fakePictures.ts';
import type { FakeScene } from './fakePictures.ts';

const TILE_MS = 38_000;
const OVERLAP = 0.1;
const CROP_RIM_UM = 20;
/** 22:04 of an evening of no importance, where the test runs. */
const START_MS = new Date(2026, 2, 3, 22, 4).getTime();

export interface FakeNightOptions {
  /** Pictures are written here. */
  readonly folder: string;
  readonly flakesPerChip?: number;
  readonly seed?: number;
}

/** An invented night that goes on one tile at a time, when it is told to. */
export class FakeNight {
  readonly calls: string[] = [];
  /** A judged flake that is offered next, as if it were new; null: nothing is left to offer. */
  again: string | null | undefined;
  readonly pictures: NightPictures;
  private readonly folder: string;
  private readonly random: () => number;
  private readonly scene: FakeScene;
  private readonly tiles: TileView[] = [];
  private readonly flakes = new Map<string, FlakeView>();
  private readonly events: EventView[] = [];
  private readonly listeners = new Set<(message: FeedMessage) => void>();
  private chips: ChipView[];
  private state: RunState = 'scanning';
  private begun = false;
  private next = 0;
  private skipped = 0;
  private labels = 0;
  private livePicture: Uint8Array | undefined;

  constructor({ folder, flakesPerChip = 22, seed = 7 }: FakeNightOptions) {
    this.folder = folder;
    this.pictures = {
      directory: folder,
      file: (name) => (/^(tiles|crops)\/[\w.-]+$/.test(name) ? join(folder, name) : undefined),
      live: () => (this.livePicture ? { bytes: this.livePicture, type: 'image/png' } : undefined),
    };
    this.random = seeded(seed);
    const chips = fakeChips();
    this.scene = { chips, flakes: fakeFlakes(chips, flakesPerChip, this.random), dirt: fakeDirt(chips, 130, this.random) };
    this.chips = chips.map(({ view }) => this.planned(view));
  }

  readonly feed: NightFeed = {
    snapshot: () => ({ run: this.begun ? this.run() : null, tiles: this.begun ? this.tiles : [], flakes: [...this.flakes.values()], progress: this.begun ? this.progress() : null, events: this.events }),
    rest: () => [],
    subscribe: (listener) => {
      this.listeners.add(listener);
      return () => void this.listeners.delete(listener);
    },
  };

  readonly controls: NightControls = {
    goToFlake: (flakeId) => this.goTo(flakeId),
    endLive: async () => void this.calls.push('endLive'),
    pause: async () => this.became('pause', 'paused'),
    goOn: async () => this.became('goOn', 'scanning'),
    stop: async () => this.became('stop', 'finished'),
    giveVerdict: async ({ flakeId, terrace, layers, source, initials }) => {
      this.calls.push(`giveVerdict ${flakeId} ${terrace} ${layers} ${source} ${initials}`);
      const call = this.flakes.get(flakeId)?.flake.terraces[terrace]?.call;
      if (!call) throw new NightjarError('noSuchFlake', { flakeId });
      this.said(flakeId, terrace, { terrace, layers, source, initials, atMs: this.clockMs(), predictedLayers: call.layers, predictedProbability: call.probability });
    },
    nextToJudge: async (initials) => {
      this.calls.push(`nextToJudge ${initials}`);
      return this.offer();
    },
    withdrawVerdict: async (flakeId, terrace) => {
      this.calls.push(`withdrawVerdict ${flakeId} ${terrace}`);
      this.said(flakeId, terrace);
    },
  };

  async begin(): Promise<void> {
    await mkdir(join(this.folder, 'tiles'), { recursive: true });
    await mkdir(join(this.folder, 'crops'), { recursive: true });
    this.begun = true;
    this.say('begun', 'The night begins: three chips, focus found on each');
    this.tell({ type: 'snapshot', ...this.feed.snapshot() });
  }

  /** Takes the next `count` tiles, or all that are left. */
  async take(count = this.tiles.length): Promise<void> {
    const end = Math.min(this.tiles.length, this.next + count);
    while (this.next < end) await this.takeOne(this.next);
    if (this.next < this.tiles.length) return;
    this.state = 'finished';
    this.say('finished', `All ${this.tiles.length} tiles are done: ${this.flagged()} flakes flagged`);
    this.tell({ type: 'progress', progress: this.progress() });
  }

  /** Changes what the run is doing, as when it parks itself. */
  became(call: string, state: RunState): void {
    this.calls.push(call);
    this.state = state;
    this.tell({ type: 'progress', progress: this.progress() });
  }

  /** Something that was no flake, without a picture of its own. */
  reject(): void {
    const [like] = this.flakes.values();
    if (!like) return;
    const { crop: _, ...rest } = like;
    const flake = { ...like.flake, id: 'K-07.99', verdict: 'rejected' as const, reject: 'softEdge' as const, layers: null, usableUm: 0, rank: 0 };
    this.flakes.set(flake.id, { ...rest, flake });
    this.tell({ type: 'flakes', changed: [{ ...rest, flake }], removed: [] });
  }

  /** A tile that was taken and tells nothing. */
  spoil(index: number): void {
    const tile = this.tiles[index];
    if (!tile) return;
    this.tiles[index] = { ...tile, fault: 'noSubstrate', reason: 'no bare oxide can be seen' };
    this.tell({ type: 'tile', tile: this.tiles[index] });
    this.tell({ type: 'progress', progress: this.progress() });
  }

  /** The best flagged flake that nobody has judged; where `again` is named, that one first, its verdict taken from sight as the daemon does. */
  private offer(): string | undefined {
    const open = [...this.flakes.values()].filter(({ flake, verdicts }) => flake.verdict === 'flagged' && verdicts === undefined).sort((a, b) => b.flake.rank - a.flake.rank);
    const id = this.again === null ? undefined : (this.again ?? open[0]?.flake.id);
    const view = id === undefined ? undefined : this.flakes.get(id);
    if (!view) return undefined;
    this.again = undefined;
    const { verdicts: _, ...plain } = view;
    this.flakes.set(view.flake.id, plain);
    this.tell({ type: 'flakes', changed: [plain], removed: [] });
    return view.flake.id;
  }

  private said(flakeId: string, terrace: number, verdict?: VerdictView): void {
    const before = this.flakes.get(flakeId);
    if (!before) return;
    const { verdicts = [], ...plain } = before;
    const left = [...verdicts.filter((each) => each.terrace !== terrace), ...(verdict ? [verdict] : [])];
    const view = left.length > 0 ? { ...plain, verdicts: left } : plain;
    this.flakes.set(flakeId, view);
    this.labels = [...this.flakes.values()].reduce((sum, each) => sum + (each.verdicts?.length ?? 0), 0);
    this.tell({ type: 'flakes', changed: [view], removed: [] });
    this.tell({ type: 'run', run: this.run() });
  }

  /** Loses a flake without telling the page, as when two are merged while it is being looked at. */
  forget(flakeId: string): void {
    this.flakes.delete(flakeId);
  }

  private planned(chip: ChipView): ChipView {
    const w = FRAME.widthPx * FRAME.pixelUm * (1 - OVERLAP);
    const h = FRAME.heightPx * FRAME.pixelUm * (1 - OVERLAP);
    const [columns, rows] = [Math.ceil(2600 / w), Math.ceil(2440 / h)];
    const centre = { xUm: (Math.min(...chip.outlineUm.map((p) => p.xUm)) + Math.max(...chip.outlineUm.map((p) => p.xUm))) / 2, yUm: (Math.min(...chip.outlineUm.map((p) => p.yUm)) + Math.max(...chip.outlineUm.map((p) => p.yUm))) / 2 };
    for (let r = 0; r < rows; r += 1) {
      for (let c = 0; c < columns; c += 1) {
        const column = r % 2 === 0 ? c : columns - 1 - c;
        const u = (column - (columns - 1) / 2) * w;
        const v = (r - (rows - 1) / 2) * h;
        const m = CAMERA_TO_STAGE.map((value) => value / FRAME.pixelUm);
        this.tiles.push({ index: this.tiles.length, chip: chip.name, state: 'planned', centreUm: { xUm: centre.xUm + (m[0] ?? 1) * u + (m[1] ?? 0) * v, yUm: centre.yUm + (m[2] ?? 0) * u + (m[3] ?? 1) * v } });
      }
    }
    return { ...chip, tiles: columns * rows };
  }

  private pose(centreUm: StagePoint, widthPx = FRAME.widthPx, heightPx = FRAME.heightPx): FramePose {
    return { centreUm, cameraToStageUm: CAMERA_TO_STAGE, widthPx, heightPx };
  }

  private async takeOne(index: number): Promise<void> {
    const tile = this.tiles[index];
    const chip = this.scene.chips.find(({ view }) => view.name === tile?.chip);
    if (!tile || !chip) return;
    this.next = index + 1;
    const skip = index % 83 === 40;
    if (skip) this.skipped += 1;
    const picture = `tiles/${String(index).padStart(6, '0')}.webp`;
    if (!skip) await writeFile(join(this.folder, picture), await fakeFrame(this.scene, chip, this.pose(tile.centreUm), { seed: index, scale: 0.5 }));
    const taken: TileView = skip ? { ...tile, state: 'skipped', reason: 'no focus' } : { ...tile, state: 'done', picture: `/pictures/${picture}` };
    this.tiles[index] = taken;
    this.chips = this.chips.map((view) => (view.name === tile.chip ? { ...view, tilesDone: view.tilesDone + 1 } : view));
    this.tell({ type: 'tile', tile: taken });
    if (skip) this.say('skipped', `Tile ${index} left out: no focus after three tries`);
    else await this.detect(taken, chip);
    this.tell({ type: 'progress', progress: this.progress() });
    if (this.tiles[index + 1]?.chip !== tile.chip) this.tell({ type: 'run', run: this.run() });
  }

  private async detect(tile: TileView, chip: FakeChip): Promise<void> {
    const pose = this.pose(tile.centreUm);
    const seen = this.scene.flakes.filter((flake) => {
      const { colPx, rowPx } = stageToPixel(pose, flake.centreUm);
      return flake.chip === tile.chip && !this.flakes.has(flake.id) && colPx > 60 && rowPx > 60 && colPx < FRAME.widthPx - 60 && rowPx < FRAME.heightPx - 60;
    });
    for (const flake of seen) {
      const view = await this.viewOf(flake, chip, tile.index);
      this.flakes.set(flake.id, view);
      this.tell({ type: 'flakes', changed: [view], removed: [] });
      if (view.flake.verdict === 'flagged') this.say('flake', `Tile ${tile.index}: ${view.flake.layers ?? ''} ${view.flake.layers === 1 ? 'layer' : 'layers'}, ${view.flake.usableUm.toFixed(0)} µm across`);
    }
  }

  private async viewOf(flake: FakeFlake, chip: FakeChip, tile: number): Promise<FlakeView> {
    const terraces = fakeTerraces(flake, chip.material, this.random);
    const layers = terraces[0]?.call.layers ?? null;
    const usableUm = terraces[0]?.inscribedUm ?? 0;
    const side = Math.round((2 * (CROP_RIM_UM + usableUm)) / FRAME.pixelUm);
    const pose = this.pose(flake.centreUm, side, Math.round(side * 0.85));
    const picture = `crops/${flake.id}.png`;
    await writeFile(join(this.folder, picture), await fakeFrame(this.scene, chip, pose, { seed: tile + 1000, lossless: true }));
    const { originUm, angleDeg } = chip.view;
    const [c, s] = [Math.cos((angleDeg * Math.PI) / 180), Math.sin((angleDeg * Math.PI) / 180)];
    const [dx, dy] = [flake.centreUm.xUm - originUm.xUm, flake.centreUm.yUm - originUm.yUm];
    return {
      flake: { id: flake.id, chip: flake.chip, bestTile: tile, tiles: [tile], centreUm: flake.centreUm, terraces, verdict: layers === null ? 'thick' : 'flagged', layers, usableUm, areaUm2: terraces[0]?.areaUm2 ?? 0, rank: usableUm / (layers ?? 20) },
      chipXUm: dx * c + dy * s,
      chipYUm: dy * c - dx * s,
      crop: { picture: `/pictures/${picture}`, widthPx: pose.widthPx, heightPx: pose.heightPx, centreUm: pose.centreUm, cameraToStageUm: CAMERA_TO_STAGE },
    };
  }

  private async goTo(flakeId: string): Promise<void> {
    this.calls.push(`goToFlake ${flakeId}`);
    const flake = this.scene.flakes.find(({ id }) => id === flakeId);
    const chip = this.scene.chips.find(({ view }) => view.name === flake?.chip);
    if (!flake || !chip || !this.flakes.has(flakeId)) throw new NightjarError('noSuchFlake', { flakeId });
    if (this.state === 'scanning') throw new NightjarError('notWhileScanning', { asked: 'going to a flake' });
    const centreUm = { xUm: flake.centreUm.xUm + 1.1, yUm: flake.centreUm.yUm - 0.7 };
    this.livePicture = await fakeFrame(this.scene, chip, this.pose(centreUm), { seed: 99, lossless: true });
    this.tell({ type: 'live', picture: '/live', centreUm, zUm: 812.4, atMs: this.clockMs(), flakeId });
  }

  private clockMs(): number {
    return START_MS + this.next * TILE_MS;
  }

  private flagged(): number {
    return [...this.flakes.values()].filter(({ flake }) => flake.verdict === 'flagged').length;
  }

  private sentence(): string {
    const chip = this.tiles[Math.min(this.next, this.tiles.length - 1)]?.chip ?? '';
    if (this.state === 'paused') return `Paused on ${chip} before tile ${this.next}.`;
    if (this.state === 'parked') return `The camera gave no frame for 2.0 s. The run is parked at tile ${this.next}; ${this.next} tiles are kept. Look at the camera’s cable.`;
    if (this.state === 'finished') return `The night is done: ${this.flagged()} flakes flagged on three chips. Nothing needs you.`;
    return `Scanning ${chip}, tile ${this.next + 1} of ${this.tiles.length}. Nothing needs you.`;
  }

  private progress(): ProgressView {
    const leftS = this.state === 'finished' ? 0 : ((this.tiles.length - this.next) * TILE_MS) / 1000;
    const now = this.next < this.tiles.length ? { nowTile: this.next } : {};
    return { state: this.state, sentence: this.sentence(), ...now, tilesDone: this.next - this.skipped, tilesSkipped: this.skipped, tilesFaulty: this.tiles.filter((tile) => tile.fault !== undefined).length, tiles: this.tiles.length, flagged: this.flagged(), leftS, doneAtMs: this.clockMs() + leftS * 1000, clockMs: this.clockMs() };
  }

  private run(): RunView {
    const ladders = Object.fromEntries(this.scene.chips.map(({ view, material }) => [view.name, Array.from({ length: 11 }, (_, layers) => contrastOf(material, layers))]));
    return { runId: 'fake-1', title: 'Three chips', operator: 'm.o.', instrument: 'Room 2.14', opticalPath: '20×/0.45, white light', simulated: true, fieldWidthUm: FRAME.widthPx * FRAME.pixelUm, fieldHeightUm: FRAME.heightPx * FRAME.pixelUm, frameWidthPx: FRAME.widthPx, frameHeightPx: FRAME.heightPx, cameraToStageUm: CAMERA_TO_STAGE, startedAtMs: START_MS, chips: this.chips, ladders, calibrations: { 'K-07': { terraces: 14, labels: this.labels, oxideNm: 287.3, oxideErrorNm: 1.2, scale: [0.96, 0.98, 0.97] } }, light: { lamp: 'halogen', numericalAperture: 0.3, filter: 'none', pixelUm: FRAME.pixelUm } };
  }

  private say(kind: string, text: string): void {
    const event = { atMs: this.clockMs(), kind, text };
    this.events.push(event);
    if (this.begun) this.tell({ type: 'event', event });
  }

  private tell(message: FeedMessage): void {
    this.listeners.forEach((listener) => listener(message));
  }
}
