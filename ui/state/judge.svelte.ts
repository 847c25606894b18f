import type { Flake } from '../../planner/flakes/types.ts';
import type { LabelSource } from '../../planner/layers/types.ts';
import { ShownFlakes, sourceOf } from './judging.ts';
import type { Means } from './judging.ts';
import { keepInitials, keepShown, keepVeil, readInitials, readShown, readVeil } from './preferences.ts';

/** How this person judges: by what, under which initials, with predictions hidden or not, and which terrace of the chosen flake. */
export class JudgeState {
  means: Means = $state('eye');
  /** Predictions are hidden everywhere on the page. */
  veiled = $state(readVeil());
  initials = $state(readInitials());
  terrace = $state(0);
  private shown = new ShownFlakes([], () => undefined);
  private runId: string | undefined;

  switchVeil(): void {
    this.veiled = !this.veiled;
    keepVeil(this.veiled);
  }

  setInitials(initials: string): void {
    this.initials = initials.trim().slice(0, 8);
    keepInitials(this.initials);
  }

  /** Of another night other flakes were shown. */
  beginRun(runId: string): void {
    if (runId === this.runId) return;
    this.runId = runId;
    this.shown = new ShownFlakes(readShown(runId), (ids) => keepShown(runId, ids));
  }

  /** The page is showing a flake; with its prediction unless that is hidden. */
  show(id: string): void {
    if (!this.veiled) this.shown.add(id);
  }

  /** Where a number given now to this flake would come from. */
  sourceFor(flake: Flake): LabelSource {
    return sourceOf(this.means, !this.veiled || this.shown.has(flake.id));
  }
}
