import type { FrameFocus } from '../../planner/focus/frameFocus.ts';
import type { Tile } from '../../planner/plan/types.ts';
import type { FramePose } from '../../planner/units/index.ts';
import type { Exposed } from './secondExposure.ts';

/** A tile's frame, in focus as far as is known. */
export interface TakenTile {
  readonly tile: Tile;
  readonly exposed: Exposed;
  readonly pose: FramePose;
  /** Middle of the heights at which it was taken. */
  readonly zUm: number;
  readonly focus: FrameFocus;
}

/** Tiles held at most, and memory for their frames. */
const MOST_TILES = 32;
const MOST_BYTES = 192_000_000;

/**
 * Tiles that were taken and are not handed on yet, since nothing has shown since that they are in focus: a sharp edge in a later frame does, or focus that is found where it
 * was thought to be. When it had jumped instead, they are owed: to be taken again before anything else. The oldest are handed on when there are too many, as they are.
 */
export class HeldTiles {
  private held: TakenTile[] = [];
  private owing: Tile[] = [];
  private provenCount = 0;

  /** Indices of tiles that nothing has proven yet, or that are owed. */
  get unproven(): readonly number[] {
    return [...this.owing, ...this.held.slice(this.provenCount).map(({ tile }) => tile)].map(({ index }) => index);
  }

  /** The chip that they lie on. */
  get chip(): string | undefined {
    return (this.held[0]?.tile ?? this.owing[0])?.chip;
  }

  get hasUnproven(): boolean {
    return this.held.length > this.provenCount;
  }

  /** What is to be taken before a tile, and the tile. */
  upTo(tile: Tile): readonly Tile[] {
    return [...this.owing.filter(({ index }) => index !== tile.index), tile];
  }

  hold(taken: TakenTile): void {
    this.owing = this.owing.filter(({ index }) => index !== taken.tile.index);
    this.held.push(taken);
  }

  /** All held tiles are in focus. */
  prove(): void {
    this.provenCount = this.held.length;
  }

  /** Focus had jumped: what is not proven is taken again. */
  owe(): void {
    const bad = this.held.splice(this.provenCount).map(({ tile }) => tile);
    this.owing = [...this.owing, ...bad].sort((a, b) => a.index - b.index);
  }

  /** Forgets a tile: it failed, and is taken again or left out. */
  drop(tile: number): void {
    const at = this.held.findIndex((one) => one.tile.index === tile);
    if (at >= 0) this.held.splice(at, 1);
    if (at >= 0 && at < this.provenCount) this.provenCount--;
    this.owing = this.owing.filter(({ index }) => index !== tile);
  }

  /** Gives out what is proven, and the oldest where too many are held. */
  letGo(): readonly TakenTile[] {
    let count = this.provenCount;
    const bytes = this.held.reduce((sum, { exposed }) => sum + exposed.frame.data.byteLength + (exposed.short?.data.byteLength ?? 0), 0);
    const most = Math.min(MOST_TILES, Math.floor(MOST_BYTES / Math.max(1, bytes / Math.max(1, this.held.length))));
    count = Math.max(count, this.held.length - most);
    this.provenCount = 0;
    return this.held.splice(0, count);
  }

  /** Empties it: what is held, and what is owed. */
  empty(): { readonly held: readonly TakenTile[]; readonly owed: readonly Tile[] } {
    this.provenCount = 0;
    return { held: this.held.splice(0), owed: this.owing.splice(0) };
  }
}
