import { BehaviorSubject, Subject, concatMap, filter, firstValueFrom, map, mergeMap } from 'rxjs';
import { inOrder } from './inOrder.ts';

/** What the pipeline is made of; T is what goes in (a frame, or a tile given up), R what comes out of the workers. */
export interface PipelineParts<T, R> {
  /** Items on their way at one time. The same number whatever the number of workers, so that they cannot change the night. */
  readonly bound: number;
  process(item: T): Promise<R>;
  /** Called in the order in which items went in; never two at once. */
  commit(item: T, result: R): Promise<void>;
  /** The first trouble of processing or committing. Nothing after it is committed: those tiles are taken again on resume. */
  failed(error: unknown): void;
}

/**
 * The way from the camera to the records: a bounded number of frames on their way through the classifier, committed in tile order.
 * Nothing is dropped: whoever takes frames awaits `room()` first, so a full pipeline makes the stage wait.
 */
export class FramePipeline<T, R> {
  private readonly parts: PipelineParts<T, R>;
  private readonly input = new Subject<T>();
  private readonly onTheWay = new BehaviorSubject(0);
  private broken = false;

  constructor(parts: PipelineParts<T, R>) {
    this.parts = parts;
    this.input
      .pipe(
        map((item, place) => ({ item, place })),
        mergeMap(async ({ item, place }) => ({ item, place, outcome: await this.outcomeOf(item) })),
        inOrder((done) => done.place),
        concatMap(({ item, outcome }) => this.commit(item, outcome)),
      )
      .subscribe();
  }

  /** True when the next frame would have to wait. */
  get full(): boolean {
    return this.onTheWay.value >= this.parts.bound;
  }

  /** Resolves when there is room for one more. */
  async room(): Promise<void> {
    await firstValueFrom(this.onTheWay.pipe(filter((count) => count < this.parts.bound)));
  }

  /** Resolves when everything that went in has come out. */
  async drained(): Promise<void> {
    await firstValueFrom(this.onTheWay.pipe(filter((count) => count === 0)));
  }

  /** Takes one item in. Throws RangeError when full: the caller did not await `room()`. */
  push(item: T): void {
    if (this.full) throw new RangeError(`the frame pipeline holds ${this.parts.bound} already`);
    this.onTheWay.next(this.onTheWay.value + 1);
    this.input.next(item);
  }

  private async outcomeOf(item: T): Promise<{ readonly result: R } | { readonly error: unknown }> {
    try {
      return { result: await this.parts.process(item) };
    } catch (error) {
      return { error };
    }
  }

  private async commit(item: T, outcome: { readonly result: R } | { readonly error: unknown }): Promise<void> {
    if (!this.broken) {
      try {
        if ('error' in outcome) throw outcome.error;
        await this.parts.commit(item, outcome.result);
      } catch (error) {
        this.broken = true;
        this.parts.failed(error);
      }
    }
    this.onTheWay.next(this.onTheWay.value - 1);
  }
}
