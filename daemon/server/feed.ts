import type { ClientMessage, EventView, FlakeView, ProgressView, RunView, ServerMessage, TileView } from './messages.ts';

type WithoutSeq<M> = M extends unknown ? Omit<M, 'seq'> : never;
/** A message before the hub has numbered it for one browser. */
export type FeedMessage = WithoutSeq<ServerMessage>;

export interface NightSnapshot {
  readonly run: RunView | null;
  readonly tiles: readonly TileView[];
  /** Those most worth seeing; the others come after it, see {@link NightFeed.rest}. */
  readonly flakes: readonly FlakeView[];
  readonly progress: ProgressView | null;
  readonly events: readonly EventView[];
}

/** What the server shows: the night as it stands, and each change after that. The run never waits for a listener. */
export interface NightFeed {
  snapshot(): NightSnapshot;
  /** All that a snapshot leaves out, in pieces. Each is made when it is asked for, and may be asked for after later changes were told. */
  rest(): Iterable<FeedMessage>;
  /** Calls the listener with every change; returns how to leave. */
  subscribe(listener: (message: FeedMessage) => void): () => void;
}

type WithoutRequest<M> = M extends unknown ? Omit<M, 'type' | 'request'> : never;
/** A layer number that a person gives to a terrace, checked by the schema. */
export type GivenVerdict = WithoutRequest<Extract<ClientMessage, { type: 'giveVerdict' }>>;

/** What a browser may ask for before the night. */
export interface PreflightControls {
  readonly isChecking: boolean;
  /** Resolves when the checks have begun. */
  checkAgain(): Promise<void>;
  /** Resolves when the night is in the records and about to be run. */
  startNight(): Promise<void>;
  stop(): Promise<void>;
}

/** What a browser may ask of the instrument and the records. Each rejects with a NightjarError (see daemon/errors) whose code and sentence go back to it. */
export interface NightControls {
  /** Left out where the night began without it. */
  readonly preflight?: PreflightControls | undefined;
  goToFlake(flakeId: string): Promise<void>;
  endLive(): Promise<void>;
  pause(): Promise<void>;
  goOn(): Promise<void>;
  stop(): Promise<void>;
  /** Resolves when the verdict and all that is read otherwise because of it is in the records. */
  giveVerdict(verdict: GivenVerdict): Promise<void>;
  withdrawVerdict(flakeId: string, terrace: number): Promise<void>;
  /** Resolves with the flake that this person is to judge next; undefined when none is left. */
  nextToJudge(initials: string): Promise<string | undefined>;
}

/** Files and live pictures that the page may ask for, by name; undefined when there is no such thing. Names come from outside: check them. */
export interface NightPictures {
  /** The data folder: a file that really lies elsewhere, whatever leads there, is not sent. */
  readonly directory: string;
  /** Absolute path of a picture of the records, e.g. `tiles/000012.webp`; never outside the data folder. */
  file(name: string): string | undefined;
  /** The last live picture as an encoded image. */
  live(): { readonly bytes: Uint8Array; readonly type: string } | undefined;
}
