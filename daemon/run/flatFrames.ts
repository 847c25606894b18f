import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import type { ChipStates } from './chipStates.ts';
import type { NightContext } from './context.ts';

/** Time that a focus frame takes on a virtual clock to be read for the flat field. */
const flatFrameMs = 200;

/**
 * The frames in focus of a chip's focus points, on their way through the classifier: the first guess of its flat field. They are read one
 * after the other, each with what the ones before have told, while focus is measured further on; the first tile waits for them.
 */
export class FlatFrames {
  private readonly context: Pick<NightContext, 'instrument' | 'pool'>;
  private readonly chips: ChipStates;
  private last: Promise<void> = Promise.resolve();
  private count = 0;
  private failure: { readonly error: unknown } | undefined;

  constructor(context: Pick<NightContext, 'instrument' | 'pool'>, chips: ChipStates) {
    this.context = context;
    this.chips = chips;
  }

  /** Hands a frame over; nothing waits for it. */
  add(chip: string, frame: CameraFrame, atUm: StagePoint): void {
    const number = this.count++;
    this.last = this.last.then(() => this.read(chip, number, frame, atUm)).catch((error: unknown) => {
      this.failure ??= { error };
    });
  }

  /** Whether any were handed over since they were last waited for. */
  get pending(): boolean {
    return this.count > 0;
  }

  /** Resolves when all handed over are read. Rejects once with what went wrong with one of them; the rest count all the same. */
  async settled(): Promise<void> {
    await this.last;
    const { failure } = this;
    this.count = 0;
    this.failure = undefined;
    if (failure) throw failure.error;
  }

  private async read(chip: string, number: number, frame: CameraFrame, atUm: StagePoint): Promise<void> {
    const pose = this.chips.poseOf(atUm);
    const job = { tile: -1 - number, input: { frame, pose, optics: this.chips.optics(chip) } };
    const { measurement } = await this.context.instrument.clock.track(this.context.pool.run(job), flatFrameMs);
    this.chips.addFlat(chip, measurement);
    this.chips.addSightings(measurement, pose);
  }
}
