import type { Flake } from '../../planner/flakes/types.ts';
import { containsPoint } from '../../planner/geometry/polygon.ts';
import type { CalibrationRecord, RunState, VerdictRecord } from '../records/types.ts';
import type { FeedMessage, NightFeed, NightSnapshot } from '../server/feed.ts';
import type { ChipView, EventView, FlakeView, PreflightView, ProgressView, RunView, TileView, VerdictView } from '../server/messages.ts';
import { isOnChip, type FlakeShelf } from './flakeShelf.ts';
import { verdictViews } from './verdictViews.ts';

/** Events kept for a page that opens late; the records hold them all. */
const eventsShown = 200;
/** Flakes told at one time to a page that opens late: a fifth of a megabyte, and 10 to 20 ms of reading. */
const flakesAtOnce = 64;

const emptyShelf: FlakeShelf = { heads: () => [], one: () => undefined, ofChip: () => [] };

/**
 * What the pages are shown: the night as it stands, and each change. A plain store without judgement; the run writes, the server
 * reads. Listeners are called at once and must not wait. Of flakes it knows which there are; what they are is read from the shelf.
 */
export class NightBoard implements NightFeed {
  private run: RunView | null = null;
  private readonly tiles = new Map<number, TileView>();
  private shelf = emptyShelf;
  /** The flakes that pages are shown, in the order in which they were found: whether each is flagged. */
  private readonly flakes = new Map<string, boolean>();
  /** Those of them that were last told with what people said. */
  private readonly judged = new Set<string>();
  private progress: ProgressView | null = null;
  /** How the checks before the night stand, until there is one. */
  private preflight: PreflightView | undefined;
  /** How many flakes are flagged. */
  flaggedCount = 0;
  private events: EventView[] = [];
  /** What people said and did not take back. */
  private verdicts: readonly VerdictRecord[] = [];
  /** Shown in place of what people said, by flake: while one is judged again. */
  private readonly instead = new Map<string, readonly VerdictView[]>();
  private readonly listeners = new Set<(message: FeedMessage) => void>();

  /** The night as it stands; of its flakes those that are flagged. All others are in {@link rest}. */
  snapshot(): NightSnapshot {
    return { run: this.run, tiles: [...this.tiles.values()], flakes: this.views(this.flaggedIds()), progress: this.progress, events: this.events };
  }

  /**
   * What a snapshot leaves out, some flakes at a time, each as it stands when it is read; changes told in between may come before or
   * after, for they say the same.
   */
  *rest(): Generator<FeedMessage> {
    if (this.preflight) yield { type: 'preflight', preflight: this.preflight };
    let ids: string[] = [];
    for (const [id, isFlagged] of this.flakes) {
      if (!isFlagged) ids.push(id);
      if (ids.length < flakesAtOnce) continue;
      yield { type: 'flakes', changed: this.views(ids), removed: [] };
      ids = [];
    }
    if (ids.length > 0) yield { type: 'flakes', changed: this.views(ids), removed: [] };
  }

  subscribe(listener: (message: FeedMessage) => void): () => void {
    this.listeners.add(listener);
    return () => this.listeners.delete(listener);
  }

  /** Shows a night from its start: everything of the one before is cleared. */
  show(run: RunView, tiles: readonly TileView[], shelf: FlakeShelf, events: readonly EventView[]): void {
    this.run = run;
    this.preflight = undefined;
    this.tiles.clear();
    this.flakes.clear();
    this.judged.clear();
    this.verdicts = [];
    this.instead.clear();
    this.shelf = shelf;
    this.flaggedCount = 0;
    for (const tile of tiles) this.tiles.set(tile.index, tile);
    for (const head of shelf.heads()) if (isOnChip(head)) this.mark(head.id, head.verdict === 'flagged');
    this.events = events.slice(-eventsShown);
    this.progress = null;
    this.tell({ type: 'snapshot', ...this.snapshot() });
  }

  setPreflight(preflight: PreflightView): void {
    this.preflight = preflight;
    this.tell({ type: 'preflight', preflight });
  }

  setTile(tile: TileView): void {
    this.tiles.set(tile.index, tile);
    this.tell({ type: 'tile', tile });
  }

  /** Flakes that have changed, as the shelf now has them, and ids of those that are no more. */
  setFlakes(changed: readonly FlakeView[], removed: readonly string[]): void {
    const shown = changed.filter(({ flake }) => isOnChip(flake));
    const hidden = changed.filter(({ flake }) => !isOnChip(flake)).map(({ flake }) => flake.id);
    const gone = [...removed, ...hidden].filter((id) => this.unmark(id));
    if (shown.length === 0 && gone.length === 0) return;
    for (const { flake } of shown) this.mark(flake.id, flake.verdict === 'flagged');
    this.tell({ type: 'flakes', changed: shown.map((view) => this.withVerdicts(view)), removed: gone });
  }

  /** Flakes as a better ladder reads them: all else of them stays. */
  rereadFlakes(flakes: readonly Flake[]): void {
    const views = flakes.flatMap((flake) => {
      const before = this.flake(flake.id);
      return before ? [{ ...before, flake }] : [];
    });
    this.setFlakes(views, []);
    this.recount();
  }

  /** Takes what people have said of this night's flakes; those that it changes are shown anew. */
  setVerdicts(verdicts: readonly VerdictRecord[]): void {
    this.verdicts = verdicts.filter((verdict) => verdict.withdrawnAtMs === undefined);
    const ids = new Set([...this.judged, ...this.verdicts.map(({ flakeId }) => flakeId)]);
    // What a flake was merged into is found by the place that was judged.
    for (const chip of new Set(this.verdicts.filter(({ flakeId }) => !this.flakes.has(flakeId)).map((verdict) => verdict.chip))) {
      for (const flake of this.shelf.ofChip(chip)) if (this.verdictsOn(flake).length > 0) ids.add(flake.id);
    }
    this.setFlakes(this.views(ids), []);
  }

  /** Shows other verdicts of a flake than were given, or none, to all; undefined shows those that were. Told even where nothing changes. */
  showInstead(flakeId: string, verdicts: readonly VerdictView[] | undefined): void {
    if (verdicts) this.instead.set(flakeId, verdicts);
    else this.instead.delete(flakeId);
    const view = this.flake(flakeId);
    if (view) this.setFlakes([view], []);
  }

  /** One line of how steady instrument and people are; empty where there is nothing to tell. */
  setConstancy(line: string): void {
    if (this.run && (this.run.constancy ?? '') !== line) this.setRun({ ...this.run, constancy: line });
  }

  /** The verdicts in force on a flake: given to it, or to one that has been merged into it since. */
  verdictsOn(flake: Flake): readonly VerdictRecord[] {
    const isOn = (verdict: VerdictRecord): boolean => flake.terraces.some((terrace) => containsPoint(terrace.outlineUm, verdict.atUm));
    return this.verdicts.filter((verdict) => verdict.flakeId === flake.id || (verdict.chip === flake.chip && !this.flakes.has(verdict.flakeId) && isOn(verdict)));
  }

  /** Every flake of a chip, those rejected too, in the order in which they were found. */
  flakesOf(chip: string): Iterable<Flake> {
    return this.shelf.ofChip(chip);
  }

  /** Changes a chip's head, and its ladder with its calibration where they have grown: one message for all. */
  setChip(name: string, change: Partial<ChipView>, ladder?: readonly (readonly number[])[], calibration?: CalibrationRecord): void {
    if (!this.run) return;
    const chips = this.run.chips.map((chip) => (chip.name === name ? { ...chip, ...change } : chip));
    const ladders = ladder ? { ...this.run.ladders, [name]: ladder } : this.run.ladders;
    const calibrations = calibration ? { ...this.run.calibrations, [name]: calibration } : this.run.calibrations;
    this.setRun({ ...this.run, chips, ladders, calibrations });
  }

  setProgress(progress: ProgressView): void {
    this.progress = progress;
    this.tell({ type: 'progress', progress });
  }

  /** Progress of a night that is only looked at: everything stands as the records have it. */
  showEnded(state: RunState, nowMs: number): void {
    const tiles = [...this.tiles.values()];
    const count = (wanted: TileView['state']): number => tiles.filter((tile) => tile.state === wanted).length;
    const flagged = this.flaggedCount;
    const [tilesDone, tilesSkipped] = [count('done'), count('skipped')];
    const tilesFaulty = tiles.filter((tile) => tile.fault !== undefined).length;
    const sentence = `${state === 'finished' ? 'Done' : 'Ended early'}: ${tilesDone} of ${tiles.length} tiles, ${flagged} ${flagged === 1 ? 'flake' : 'flakes'} flagged.`;
    this.setProgress({ state, sentence, tilesDone, tilesSkipped, tilesFaulty, tiles: tiles.length, flagged, leftS: 0, doneAtMs: nowMs, clockMs: nowMs });
  }

  addEvent(event: EventView): void {
    this.events = [...this.events.slice(1 - eventsShown), event];
    this.tell({ type: 'event', event });
  }

  /** Passes on what is not part of the night's state: live pictures. */
  tell(message: FeedMessage): void {
    for (const listener of this.listeners) listener(message);
  }

  flake(id: string): FlakeView | undefined {
    const view = this.flakes.has(id) ? this.shelf.one(id) : undefined;
    return view && this.withVerdicts(view);
  }

  isFlagged(id: string): boolean {
    return this.flakes.get(id) === true;
  }

  tile(index: number): TileView | undefined {
    return this.tiles.get(index);
  }

  chip(name: string): ChipView | undefined {
    return this.run?.chips.find((chip) => chip.name === name);
  }

  /** What a chip's ladder was fitted to, as far as it is known. */
  calibration(chip: string): CalibrationRecord | undefined {
    return this.run?.calibrations[chip];
  }

  /** Flagged flakes, best first. */
  flagged(): readonly Flake[] {
    return this.views(this.flaggedIds())
      .map((view) => view.flake)
      .sort((a, b) => b.rank - a.rank || (a.id < b.id ? -1 : 1));
  }

  /** After a reading outside the run: how many are flagged, in the figures and in the sentence about a night that is over. */
  private recount(): void {
    const { progress } = this;
    if (!progress || progress.flagged === this.flaggedCount) return;
    if (progress.state === 'finished' || progress.state === 'failed' || progress.state === 'parked') this.showEnded(progress.state, progress.doneAtMs);
    else this.setProgress({ ...progress, flagged: this.flaggedCount });
  }

  private flaggedIds(): readonly string[] {
    return [...this.flakes].flatMap(([id, isFlagged]) => (isFlagged ? [id] : []));
  }

  private views(ids: Iterable<string>): readonly FlakeView[] {
    return [...ids].flatMap((id) => this.flake(id) ?? []);
  }

  private mark(id: string, isFlagged: boolean): void {
    this.flaggedCount += Number(isFlagged) - Number(this.isFlagged(id));
    this.flakes.set(id, isFlagged);
  }

  /** False when there was none. */
  private unmark(id: string): boolean {
    this.flaggedCount -= Number(this.isFlagged(id));
    this.judged.delete(id);
    return this.flakes.delete(id);
  }

  private withVerdicts(view: FlakeView): FlakeView {
    const { verdicts: _, ...plain } = view;
    const verdicts = this.instead.get(view.flake.id) ?? verdictViews(view.flake, this.verdictsOn(view.flake));
    if (verdicts.length === 0) {
      this.judged.delete(view.flake.id);
      return plain;
    }
    this.judged.add(view.flake.id);
    return { ...plain, verdicts };
  }

  private setRun(run: RunView): void {
    this.run = run;
    this.tell({ type: 'run', run });
  }
}
