import { z } from 'zod';
import type { Flake } from '../../planner/flakes/types.ts';
import type { Matrix2, StagePoint } from '../../planner/units/index.ts';
import type { RunState } from '../records/types.ts';

/** What the map draws of one chip. Chip coordinates: origin and x axis of the chip's own frame on the stage. */
export interface ChipView {
  readonly name: string;
  readonly material: string;
  readonly oxideNm: number;
  readonly outlineUm: readonly StagePoint[];
  readonly originUm: StagePoint;
  readonly angleDeg: number;
  readonly tiles: number;
  readonly tilesDone: number;
}

export interface TileView {
  readonly index: number;
  readonly chip: string;
  readonly centreUm: StagePoint;
  readonly state: 'planned' | 'done' | 'skipped';
  readonly reason?: string;
  /** Address of the map picture, once taken. */
  readonly picture?: string;
}

export interface FlakeView {
  readonly flake: Flake;
  /** Position in the chip's own frame. */
  readonly chipXUm: number;
  readonly chipYUm: number;
  /** The picture cut round it, in the camera's pixels, ready to be shown (sRGB, flat field taken out). */
  readonly crop?: { readonly picture: string; readonly widthPx: number; readonly heightPx: number; readonly centreUm: StagePoint; readonly cameraToStageUm: Matrix2 };
}

export interface ProgressView {
  readonly state: RunState;
  /** One sentence: what is happening now. */
  readonly sentence: string;
  readonly nowTile?: number;
  readonly tilesDone: number;
  readonly tilesSkipped: number;
  readonly tiles: number;
  readonly flagged: number;
  readonly leftS: number;
  /** When it will be done, ms since 1970, on the daemon's clock. */
  readonly doneAtMs: number;
  readonly clockMs: number;
}

export interface EventView {
  readonly atMs: number;
  readonly kind: string;
  readonly text: string;
}

export interface RunView {
  readonly runId: string;
  readonly title: string;
  readonly operator: string;
  readonly instrument: string;
  readonly opticalPath: string;
  readonly simulated: boolean;
  readonly fieldWidthUm: number;
  readonly fieldHeightUm: number;
  readonly frameWidthPx: number;
  readonly frameHeightPx: number;
  readonly cameraToStageUm: Matrix2;
  readonly chips: readonly ChipView[];
  /** When the night began, ms since 1970, on the daemon's clock: the left end of the night line. */
  readonly startedAtMs?: number;
  /** What the ladder now says, by chip name: `ladders[chip][layers][channel]` is the contrast of 0, 1, ... 10 layers. */
  readonly ladders: Readonly<Record<string, readonly (readonly number[])[]>>;
}

/** Daemon to browser. `seq` counts by one; a gap means that a snapshot must be asked for. */
export type ServerMessage = { readonly seq: number } & (
  | { readonly type: 'snapshot'; readonly run: RunView | null; readonly tiles: readonly TileView[]; readonly flakes: readonly FlakeView[]; readonly progress: ProgressView | null; readonly events: readonly EventView[] }
  | { readonly type: 'run'; readonly run: RunView }
  | { readonly type: 'tile'; readonly tile: TileView }
  | { readonly type: 'flakes'; readonly changed: readonly FlakeView[]; readonly removed: readonly string[] }
  | { readonly type: 'progress'; readonly progress: ProgressView }
  | { readonly type: 'event'; readonly event: EventView }
  | { readonly type: 'live'; readonly picture: string; readonly centreUm: StagePoint; readonly zUm: number; readonly atMs: number; readonly flakeId?: string }
  | { readonly type: 'refused'; readonly request: string; readonly code: string; readonly sentence: string }
  | { readonly type: 'answer'; readonly request: string }
);

const requestId = z.string().min(1).max(40);

/** Browser to daemon, checked by this schema before anything else looks at it. */
export const clientMessageSchema = z.discriminatedUnion('type', [
  z.strictObject({ type: z.literal('snapshot'), request: requestId }),
  /** Answered at once: so a browser knows that the daemon is still there while nothing changes. */
  z.strictObject({ type: z.literal('ping'), request: requestId }),
  z.strictObject({ type: z.literal('goToFlake'), request: requestId, flakeId: z.string().min(1).max(80) }),
  z.strictObject({ type: z.literal('endLive'), request: requestId }),
  z.strictObject({ type: z.literal('pause'), request: requestId }),
  z.strictObject({ type: z.literal('goOn'), request: requestId }),
  z.strictObject({ type: z.literal('stop'), request: requestId }),
]);
export type ClientMessage = z.infer<typeof clientMessageSchema>;
