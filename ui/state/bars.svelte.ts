import { barMayFit, barThatFits } from '../../planner/flakes/shape/barOnChip.ts';
import type { BarOnFlake } from '../../planner/flakes/shape/barOnFlake.ts';
import type { FlakeView } from '../../daemon/server/messages.ts';
import type { Flake } from '../../planner/flakes/types.ts';
import type { BarAnswer, BarSize } from './barSize.ts';
import { EMPTY_NIGHT } from './night.ts';
import type { NightView } from './night.ts';

/** The page may be held up by so much at a time. */
const SLICE_MS = 8;

/** Looks for the wanted bar on the flakes in the list, best first, a few at a time so that the page stays quick. */
export class BarSearch {
  size: BarSize | undefined = $state.raw();
  /** Counts up as answers come: what reads them is then redone. */
  private version = $state(0);
  private answers = new WeakMap<Flake, BarOnFlake | 'none'>();
  private todo: readonly FlakeView[] = [];
  private everything: NightView['flakes'] = EMPTY_NIGHT.flakes;
  private isAtWork = false;

  want(size: BarSize | undefined): void {
    this.size = size;
    this.answers = new WeakMap();
    this.version += 1;
    this.go();
  }

  /** Takes the flakes as they now are; answers for those that did not change stay. */
  update(list: readonly FlakeView[], everything: NightView['flakes']): void {
    this.todo = list;
    this.everything = everything;
    this.go();
  }

  on(flake: Flake): BarAnswer {
    return this.version < 0 ? undefined : this.answers.get(flake);
  }

  /** How many of these flakes have room for it, and whether all were looked at. */
  count(list: readonly FlakeView[]): { readonly fits: number; readonly open: number } {
    let [fits, open] = [0, 0];
    for (const { flake } of list) {
      const answer = this.on(flake);
      if (answer === undefined) open += 1;
      else if (answer !== 'none') fits += 1;
    }
    return { fits, open };
  }

  private go(): void {
    if (this.isAtWork || !this.size) return;
    this.isAtWork = true;
    setTimeout(() => this.slice(), 0);
  }

  private slice(): void {
    this.isAtWork = false;
    const { size } = this;
    if (!size) return;
    const until = performance.now() + SLICE_MS;
    const dirty = [...this.everything.values()].map((view) => view.flake).filter((flake) => flake.reject !== undefined);
    for (const { flake } of this.todo) {
      if (this.answers.has(flake)) continue;
      if (performance.now() > until) {
        this.version += 1;
        return this.go();
      }
      const fit = barMayFit(flake, size.lengthUm, size.widthUm) ? barThatFits(flake, dirty, size.lengthUm, size.widthUm) : undefined;
      this.answers.set(flake, fit ?? 'none');
    }
    this.version += 1;
  }
}
