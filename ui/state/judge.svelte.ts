import type { Flake } from '../../planner/flakes/types.ts';
import type { LabelSource } from '../../planner/layers/types.ts';
import { ShownFlakes, sourceOf } from './judging.ts';
import type { Means } from './judging.ts';
import { keepInitials, keepShown, keepVeil, readInitials, readShown, readVeil } from './preferences.ts';

/** How this person judges: by what, under which initials, with predictions hidden or not, and which terrace of the chosen flake. */
export class JudgeState {
  means: Means = $state('eye');
  /** Flakes are judged one after the other as the daemon offers them: nothing on the page says what is predicted, nor what was said last. */
  isOffered = $state(false);
  /** Counts the flakes offered, so that the page knows of each new one. */
  offers = $state(0);
  /** The last question was answered with none. */
  isAllJudged = $state(false);
  private wish = $state(readVeil());
  /** Predictions are hidden everywhere on the page. */
  veiled: boolean = $derived(this.wish || this.isOffered);
  initials = $state(readInitials());
  terrace = $state(0);
  private shown = new ShownFlakes([], () => undefined);
  private runId: string | undefined;

  switchVeil(): void {
    this.wish = !this.veiled;
    this.isOffered = false;
    keepVeil(this.wish);
  }

  /** The daemon is asked for a flake, which is judged by eye. */
  beginOffered(): void {
    this.means = 'eye';
    this.isOffered = true;
    this.isAllJudged = false;
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
