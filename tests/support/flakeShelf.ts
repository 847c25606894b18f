import type { FlakeShelf } from '../../daemon/run/flakeShelf.ts';
import type { FlakeView } from '../../daemon/server/messages.ts';

/** A shelf in memory: `put` and `take` are what the run does to the records before it tells the board. */
export class ShelfInMemory implements FlakeShelf {
  private readonly views = new Map<string, FlakeView>();
  /** Ids in the order in which they were read whole. */
  readonly read: string[] = [];

  constructor(views: readonly FlakeView[]) {
    this.put(...views);
  }

  put(...views: readonly FlakeView[]): readonly FlakeView[] {
    for (const view of views) this.views.set(view.flake.id, view);
    return views;
  }

  take(id: string): void {
    this.views.delete(id);
  }

  heads() {
    return [...this.views.values()].map(({ flake: { id, verdict, reject } }) => ({ id, verdict, ...(reject ? { reject } : {}) }));
  }

  one(id: string): FlakeView | undefined {
    this.read.push(id);
    return this.views.get(id);
  }

  ofChip(chip: string) {
    return [...this.views.values()].map(({ flake }) => flake).filter((flake) => flake.chip === chip);
  }
}
