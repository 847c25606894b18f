import { z } from 'zod';
import type { Flake } from '../../planner/flakes/types.ts';
import type { Matrix2, StagePoint } from '../../planner/units/index.ts';
import type { LabelSource } from '../../planner/layers/types.ts';
import type { CalibrationRecord, CloseUpTerrace, RunState } from '../records/types.ts';
import type { Finding } from '../doctor/finding.ts';
import type { FrameFault } from '../vision/types.ts';

/** What the map draws of one chip. Chip coordinates: origin and x axis of the chip's own frame on the stage. */
export interface ChipView {
  readonly name: string;
  readonly material: string;
  readonly oxideNm: number;
  readonly outlineUm: readonly StagePoint[];
  /** Areas that the run sheet leaves out; none when left out. */
  readonly skipUm?: readonly (readonly StagePoint[])[];
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
  /** In words: why it was left out, or what was wrong with its frame. */
  readonly reason?: string;
  /** Set where a frame was taken that nothing can be read from. */
  readonly fault?: FrameFault;
  /** Address of the map picture, once taken. */
  readonly picture?: string;
}

/** A layer number that a person gave, beside what was predicted when they did. */
export interface VerdictView {
  readonly terrace: number;
  readonly layers: number;
  readonly source: LabelSource;
  readonly initials: string;
  readonly note?: string;
  readonly atMs: number;
  readonly predictedLayers: number | null;
  readonly predictedProbability: number;
}

/** A flake as the second pass saw it, at high magnification. */
export interface CloseUpView {
  readonly picture: string;
  readonly widthPx: number;
  readonly heightPx: number;
  readonly centreUm: StagePoint;
  readonly cameraToStageUm: Matrix2;
  /** The objective in words: "50×/0.80". */
  readonly optics: string;
  /** What it says of the flake's terraces; empty where they were not found again. */
  readonly terraces: readonly CloseUpTerrace[];
}

export interface FlakeView {
  readonly flake: Flake;
  /** Position in the chip's own frame. */
  readonly chipXUm: number;
  readonly chipYUm: number;
  /** What people said of its terraces and did not take back; left out where nobody has. */
  readonly verdicts?: readonly VerdictView[];
  /** The picture cut round it, in the camera's pixels, ready to be shown (sRGB, flat field taken out). */
  readonly crop?: { readonly picture: string; readonly widthPx: number; readonly heightPx: number; readonly centreUm: StagePoint; readonly cameraToStageUm: Matrix2 };
  /** Left out where it was not looked at again. */
  readonly closeUp?: CloseUpView;
}

export interface ProgressView {
  readonly state: RunState;
  /** One sentence: what is happening now. */
  readonly sentence: string;
  readonly nowTile?: number;
  readonly tilesDone: number;
  readonly tilesSkipped: number;
  /** Of the tiles done, those whose frame nothing can be read from. */
  readonly tilesFaulty: number;
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

/** What a chip's ladder was fitted to and where it settled. */
export type CalibrationView = CalibrationRecord;

/** The light of tonight's optical path, as far as optics needs to know it. */
export interface LightView {
  readonly lamp: 'halogen' | 'whiteLed';
  /** Of the illuminated cone. */
  readonly numericalAperture: number;
  /** Name of the filter; its band is not known. */
  readonly filter: string;
  readonly pixelUm: number;
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
  /** What each ladder was fitted to and where it settled, by chip name. */
  readonly calibrations: Readonly<Record<string, CalibrationView>>;
  readonly light: LightView;
  /** How steady the instrument is and those who judge, in one line; left out or empty where there is nothing to tell. */
  readonly constancy?: string;
}

/** Who may move the instrument, as one browser is shown it. All times ms since 1970, on the server's own clock. */
export interface ControlsView {
  readonly nowMs: number;
  /** This browser has them. */
  readonly yours: boolean;
  /** With this a page that was reloaded, or lost its line, is known again: for `takeControls`. Only its holder is told. */
  readonly key?: string;
  /** `untilMs`: when they are free again if nothing is done with them. Left out while nobody has them. */
  readonly holder?: { readonly name: string; readonly sinceMs: number; readonly untilMs: number; readonly isGone: boolean };
  /** Who asked for them; at `untilMs` they pass on unless the holder answers or does something. */
  readonly asker?: { readonly name: string; readonly yours: boolean; readonly untilMs: number };
}

/** One check of a preflight; before it is done it has nothing to say. */
export interface PreflightCheckView {
  readonly name: string;
  readonly isDone: boolean;
  readonly isNow: boolean;
  readonly findings: readonly Finding[];
}

/** Whether the night may begin, as far as it was looked at. */
export interface PreflightView {
  readonly title: string;
  readonly checks: readonly PreflightCheckView[];
  /** Left out while it is looked; `aged`: it was ready too long ago. */
  readonly readiness?: 'ready' | 'toBeLookedAt' | 'notReady' | 'aged';
  readonly sentence: string;
  /** When the night would be done if it began with the checks, ms since 1970, on the daemon's clock. */
  readonly doneAtMs: number;
  /** What no check can see. */
  readonly reminders: readonly string[];
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
  | { readonly type: 'preflight'; readonly preflight: PreflightView }
  | { readonly type: 'controls'; readonly controls: ControlsView }
  | { readonly type: 'refused'; readonly request: string; readonly code: string; readonly sentence: string }
  /** `flakeId` only in answer to `nextToJudge`, and not there either when no flake is left. */
  | { readonly type: 'answer'; readonly request: string; readonly flakeId?: string }
);

const labelSource = z.enum(['raman', 'afm', 'blindEye', 'shownEye']) satisfies z.ZodType<LabelSource>;
const flakeId = z.string().min(1).max(80);
const terrace = z.number().int().min(0).max(999);
const requestId = z.string().min(1).max(40);
const initials = z.string().trim().min(1).max(8);

/** Browser to daemon, checked by this schema before anything else looks at it. */
export const clientMessageSchema = z.discriminatedUnion('type', [
  z.strictObject({ type: z.literal('snapshot'), request: requestId }),
  /** Answered at once: so a browser knows that the daemon is still there while nothing changes. */
  z.strictObject({ type: z.literal('ping'), request: requestId }),
  z.strictObject({ type: z.literal('goToFlake'), request: requestId, flakeId }),
  z.strictObject({ type: z.literal('endLive'), request: requestId }),
  z.strictObject({ type: z.literal('pause'), request: requestId }),
  z.strictObject({ type: z.literal('goOn'), request: requestId }),
  /** Runs the checks before the night once more. */
  z.strictObject({ type: z.literal('checkAgain'), request: requestId }),
  /** Begins the night that was checked. */
  z.strictObject({ type: z.literal('startNight'), request: requestId }),
  z.strictObject({ type: z.literal('stop'), request: requestId }),
  /** A person's layer number for a terrace; it takes the place of an earlier one. */
  z.strictObject({
    type: z.literal('giveVerdict'),
    request: requestId,
    flakeId,
    terrace,
    layers: z.number().int().min(1).max(10),
    source: labelSource,
    initials,
    note: z.string().trim().min(1).max(500).exactOptional(),
  }),
  /** Takes a person's layer number back. */
  z.strictObject({ type: z.literal('withdrawVerdict'), request: requestId, flakeId, terrace }),
  /** Which flake this person is to judge next; the answer names it, and does not say whether it was judged before. */
  z.strictObject({ type: z.literal('nextToJudge'), request: requestId, initials }),
  /** Takes the controls when they are free, asks their holder when they are not. `key`: only to be known again, never to take them anew. */
  z.strictObject({ type: z.literal('takeControls'), request: requestId, name: z.string().trim().min(1).max(40).regex(/^[\p{L}\p{M}\p{N}\p{P}\p{Zs}]+$/u).exactOptional(), key: z.string().min(1).max(64).exactOptional() }),
  /** Gives the controls to whoever asked, or sets them free; also takes back what one asked. */
  z.strictObject({ type: z.literal('giveUpControls'), request: requestId }),
  /** Says no to whoever asked. */
  z.strictObject({ type: z.literal('keepControls'), request: requestId }),
]);
export type ClientMessage = z.infer<typeof clientMessageSchema>;
