import type { ControlsView, EventView, FlakeView, PreflightView, ProgressView, RunView, ServerMessage, TileView } from '../../daemon/server/messages.ts';
import type { StagePoint } from '../../planner/units/index.ts';

/** The last live picture that was announced. */
export interface LiveView {
  readonly picture: string;
  readonly centreUm: StagePoint;
  readonly zUm: number;
  readonly atMs: number;
  readonly flakeId?: string;
}

/** The night as this browser knows it. A new object at each change; parts that did not change are the same objects. */
export interface NightView {
  readonly run: RunView | null;
  /** By tile index, with holes where nothing is known. */
  readonly tiles: readonly (TileView | undefined)[];
  readonly flakes: ReadonlyMap<string, FlakeView>;
  readonly progress: ProgressView | null;
  /** Newest first, bounded. */
  readonly events: readonly EventView[];
  readonly live: LiveView | null;
  /** The checks before the night, while there is none. */
  readonly preflight: PreflightView | null;
  /** Who may move the instrument; not part of the night, and kept over a snapshot. */
  readonly controls: ControlsView | null;
  /** Number of the last message taken in; 0 before the first. */
  readonly seq: number;
  /** A message is missing: nothing is believed until a snapshot comes. */
  readonly gap: boolean;
}

export const EMPTY_NIGHT: NightView = { run: null, tiles: [], flakes: new Map(), progress: null, events: [], live: null, preflight: null, controls: null, seq: 0, gap: false };

/** Older events are in the records; the page keeps this many. */
export const MOST_EVENTS = 200;

type Snapshot = Extract<ServerMessage, { type: 'snapshot' }>;
type FlakesChange = Extract<ServerMessage, { type: 'flakes' }>;

function fromSnapshot(view: NightView, message: Snapshot): NightView {
  const tiles: (TileView | undefined)[] = [];
  for (const tile of message.tiles) tiles[tile.index] = tile;
  const sameRun = view.run !== null && view.run.runId === message.run?.runId;
  return {
    run: message.run,
    tiles,
    flakes: new Map(message.flakes.map((flake) => [flake.flake.id, flake])),
    progress: message.progress,
    events: [...message.events].sort((a, b) => b.atMs - a.atMs).slice(0, MOST_EVENTS),
    live: sameRun ? view.live : null,
    // It comes after the snapshot, where it still stands.
    preflight: message.run === null ? view.preflight : null,
    controls: view.controls,
    seq: message.seq,
    gap: false,
  };
}

function withFlakes(flakes: ReadonlyMap<string, FlakeView>, change: FlakesChange): ReadonlyMap<string, FlakeView> {
  const next = new Map(flakes);
  for (const id of change.removed) next.delete(id);
  for (const flake of change.changed) next.set(flake.flake.id, flake);
  return next;
}

function withTile(tiles: NightView['tiles'], tile: TileView): NightView['tiles'] {
  const next = tiles.slice();
  next[tile.index] = tile;
  return next;
}

function withLive(view: NightView, live: LiveView): NightView {
  return { ...view, live };
}

function changed(view: NightView, message: Exclude<ServerMessage, Snapshot>): NightView {
  switch (message.type) {
    case 'run':
      return message.run.runId === view.run?.runId ? { ...view, run: message.run } : { ...EMPTY_NIGHT, run: message.run, controls: view.controls, seq: view.seq };
    case 'tile':
      return { ...view, tiles: withTile(view.tiles, message.tile) };
    case 'flakes':
      return { ...view, flakes: withFlakes(view.flakes, message) };
    case 'progress':
      return { ...view, progress: message.progress };
    case 'event':
      return { ...view, events: [message.event, ...view.events].slice(0, MOST_EVENTS) };
    case 'live':
      return withLive(view, message);
    case 'preflight':
      return { ...view, preflight: message.preflight };
    case 'controls':
      return { ...view, controls: message.controls };
    case 'refused':
    case 'answer':
      return view;
  }
}

/**
 * The night after one message. A snapshot replaces everything; after a gap in the numbers everything else is left aside until one
 * comes (`gap` says to ask for it).
 */
export function follow(view: NightView, message: ServerMessage): NightView {
  if (message.type === 'snapshot') return fromSnapshot(view, message);
  if (view.gap || message.seq !== view.seq + 1) return view.gap ? view : { ...view, gap: true };
  return { ...changed(view, message), seq: message.seq };
}
