import type { StagePoint } from '../../planner/units/index.ts';

/** Goes to a tile; resolves with where the sample is once the picture stands. */
export type GoToTile = () => Promise<StagePoint>;

/**
 * The way to the next tile, begun while the frame of the last one is still being read out. At most one way is under way; whoever wants the
 * stage for anything else lets it come to rest first.
 */
export class WayAhead {
  private under: { readonly tile: number; readonly arrival: Promise<StagePoint> } | undefined;

  /** Sets out. What goes wrong is met by whoever wants to arrive there. */
  begin(tile: number, go: GoToTile): void {
    const arrival = go();
    arrival.catch(() => undefined);
    this.under = { tile, arrival };
  }

  /** Ends the way that was begun to this tile, or goes there. Rejects as the way does. */
  async arrive(tile: number, go: GoToTile): Promise<StagePoint> {
    const { under } = this;
    if (under?.tile !== tile) {
      await this.rest();
      return go();
    }
    this.under = undefined;
    return under.arrival;
  }

  /** Resolves when no way is under way any more, however it ended. */
  async rest(): Promise<void> {
    const { under } = this;
    this.under = undefined;
    await under?.arrival.catch(() => undefined);
  }
}
