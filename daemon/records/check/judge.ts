import type { PlannedChip, ScanPlan } from '../../../planner/plan/types.ts';
import type { StagePoint } from '../../../planner/units/index.ts';
import type { NightFacts } from './nightFacts.ts';
import type { Problem, ProblemKind } from './problem.ts';
import { judgeStory } from './story.ts';

/** A night's records against its plan and against each other. Pure. */
class NightJudge {
  readonly problems: Problem[] = [];
  private readonly facts: NightFacts;
  private readonly files: ReadonlySet<string>;
  private readonly planned: ReadonlyMap<number, string>;
  private readonly chips: ReadonlyMap<string, PlannedChip>;
  private readonly outcomes = new Map<number, string>();

  constructor(facts: NightFacts, files: ReadonlySet<string>) {
    this.facts = facts;
    this.files = files;
    const { chips } = facts.run.plan;
    this.planned = new Map(chips.flatMap((chip) => chip.tiles.map((tile) => [tile.index, chip.name] as const)));
    this.chips = new Map(chips.map((chip) => [chip.name, chip] as const));
  }

  private add(kind: ProblemKind, what: string, record: string): void {
    this.problems.push({ kind, where: `night ${this.facts.run.id}, ${record}`, what });
  }

  tiles(): void {
    for (const { tile, chip, outcome, reason, pictureFile } of this.facts.tiles) {
      const record = `tile ${tile}`;
      const wanted = this.planned.get(tile);
      if (wanted === undefined) this.add('outsidePlan', 'the plan has no such tile', record);
      else if (wanted !== chip) this.add('outsidePlan', `it is recorded on chip ${chip}, and the plan has it on ${wanted}`, record);
      if (this.outcomes.has(tile)) this.add('tileTwice', 'it is recorded more than once', record);
      if (outcome === 'skipped' && (reason === undefined || reason === '')) this.add('noReason', 'it was skipped, and no reason is given', record);
      if (pictureFile !== undefined) this.known(pictureFile, record);
      this.outcomes.set(tile, outcome);
    }
  }

  /** A night that is finished has every tile of its plan, done or skipped. */
  whole(): void {
    if (this.facts.run.state !== 'finished') return;
    const lost = [...this.planned.keys()].filter((tile) => !this.outcomes.has(tile));
    if (lost.length > 0) this.add('tilesMissing', `${lost.length} of ${this.planned.size} are missing, the first of them tile ${Math.min(...lost)}`, 'tiles');
  }

  flakes(): void {
    for (const { id, chip, bestTile, tiles } of this.facts.flakes) {
      const record = `flake ${id}`;
      this.onChip(chip, record);
      this.shownBy(bestTile, record);
      for (const tile of tiles) if (tile !== bestTile) this.shownBy(tile, record);
    }
  }

  pictures(): void {
    const flakes = new Set(this.facts.flakes.map(({ id }) => id));
    for (const { flakeId, tile, file } of this.facts.crops) {
      const record = `crop of flake ${flakeId}`;
      if (!flakes.has(flakeId)) this.add('dangling', 'there is no such flake', record);
      this.shownBy(tile, record);
      this.known(file, record);
    }
    for (const closeUp of this.facts.closeUps) {
      const record = `close-up of flake ${closeUp.flakeId} under ${closeUp.opticalPath}`;
      if (!flakes.has(closeUp.flakeId)) this.add('dangling', 'there is no such flake', record);
      if (closeUp.outcome === 'done') [closeUp.picture.file, closeUp.picture.rawFile].forEach((file) => this.known(file, record));
      else if (closeUp.reason === '') this.add('noReason', 'it was left out, and no reason is given', record);
    }
  }

  /** A flake may have been merged with its neighbour since somebody spoke of it: then the place must be one of the chip. */
  verdicts(): void {
    const flakes = new Set(this.facts.flakes.map(({ id }) => id));
    for (const { seq, flakeId, chip, atUm } of this.facts.verdicts) {
      const planned = this.chips.get(chip);
      const isThere = flakes.has(flakeId) || (planned !== undefined && isOnTiles(atUm, planned, this.facts.run.plan));
      if (!isThere) this.add('dangling', `there is neither a flake ${flakeId} nor such a place on chip ${chip}`, `verdict ${seq}`);
    }
  }

  chipRows(): void {
    for (const chip of this.facts.chips) this.onChip(chip, `chip ${chip}`);
  }

  private onChip(chip: string, record: string): void {
    if (!this.chips.has(chip)) this.add('outsidePlan', `the plan has no chip ${chip}`, record);
  }

  private shownBy(tile: number, record: string): void {
    const outcome = this.outcomes.get(tile);
    if (outcome !== 'done') this.add('dangling', outcome === undefined ? `tile ${tile}, which it names, is not recorded` : `tile ${tile}, which it names, was skipped`, record);
  }

  private known(file: string, record: string): void {
    if (!this.files.has(file)) this.add('dangling', `its picture ${file} is not among the recorded files`, record);
  }
}

/** Whether a place lies on the fields of a chip's tiles: as near to the middle of one as its corners are. */
function isOnTiles({ xUm, yUm }: StagePoint, { tiles }: PlannedChip, { fieldWidthUm, fieldHeightUm }: ScanPlan): boolean {
  // A field may be turned: half its diagonal is the farthest that it reaches.
  const reachUm = Math.hypot(fieldWidthUm, fieldHeightUm) / 2;
  return tiles.some(({ centreUm }) => Math.hypot(centreUm.xUm - xUm, centreUm.yUm - yUm) <= reachUm);
}

/** @param files every file that has a row of its own in the records */
export function judgeNight(facts: NightFacts, files: ReadonlySet<string>): readonly Problem[] {
  const judge = new NightJudge(facts, files);
  judge.tiles();
  judge.whole();
  judge.chipRows();
  judge.flakes();
  judge.pictures();
  judge.verdicts();
  return [...judge.problems, ...judgeStory(facts.run.id, facts.run.state, facts.transitions)];
}
