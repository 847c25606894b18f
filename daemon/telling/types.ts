import type { Occasion } from '../config/people.ts';

/** A picture that goes with a message, small and ready to be shown. */
export interface TellingPicture {
  /** Letters, digits and hyphens: it is found by this within the mail. */
  readonly id: string;
  readonly jpeg: Uint8Array;
  readonly widthPx: number;
  readonly heightPx: number;
  /** Length of the bar that is drawn into it. */
  readonly barUm: number;
}

export interface TellingFlake {
  readonly id: string;
  readonly chip: string;
  /** "1 layer", "12.3 nm (11.4 to 13.1)". */
  readonly layersText: string;
  readonly layers: number | null;
  /** Of the number that is counted, 0 to 1. */
  readonly probability: number;
  readonly usableUm: number;
  readonly areaUm2: number;
  /** In the chip's own frame. */
  readonly chipXUm: number;
  readonly chipYUm: number;
  /** What speaks for it, and what to look at first; plain sentences' parts. */
  readonly reasons: readonly string[];
  readonly cautions: readonly string[];
}

/** The figures of a night as far as it has come. */
export interface NightFigures {
  readonly runId: string;
  readonly title: string;
  readonly instrument: string;
  readonly operator: string;
  readonly tilesPlanned: number;
  readonly tilesDone: number;
  readonly tilesSkipped: number;
  readonly flagged: number;
}

/** How a night went, for the morning. Times in seconds. */
export interface NightCourse {
  readonly forecastS: number;
  /** From the first move to the end, without the time in which it was parked or cut off. */
  readonly tookS: number;
  /** What the run waited for, in words, with its time; only what took a second or more. */
  readonly waits: readonly { readonly what: string; readonly seconds: number }[];
  /** Why tiles were left out, in words, the most frequent first. */
  readonly skipped: readonly { readonly reason: string; readonly tiles: number }[];
  readonly closeUpsDone: number;
  readonly closeUpsSkipped: number;
}

/** One message, before it is put into the form of a mail or a webhook. */
export interface Tidings {
  /** Unique: the same when it is sent again. */
  readonly id: string;
  readonly kind: Occasion | 'test';
  readonly atMs: number;
  /** What happened, and what to do, in one or a few sentences. */
  readonly sentence: string;
  readonly night?: NightFigures;
  readonly course?: NightCourse;
  /** The best, best first. */
  readonly flakes: readonly TellingFlake[];
  /** By the flake's id. */
  readonly pictures: ReadonlyMap<string, TellingPicture>;
  /** The latest troubles, in words, the last one last. */
  readonly troubles: readonly string[];
  readonly page?: string;
}

/** What became of one attempt. `again`: whether another one may do better. The reason holds no secret. */
export type Attempt = { readonly ok: true; readonly answer: string } | { readonly ok: false; readonly reason: string; readonly again: boolean };

/** One way to tell: a mail to its readers, or one webhook. */
export interface Channel {
  /** "mail to a@example.org", "webhook lab chat". */
  readonly name: string;
  readonly about: ReadonlySet<Tidings['kind']>;
  /** Never rejects; ends soon after the signal is aborted. */
  send(tidings: Tidings, signal: AbortSignal): Promise<Attempt>;
}
