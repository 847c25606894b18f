import type { LayerCall } from '../../planner/flakes/types.ts';
import type { StagePoint } from '../../planner/units/index.ts';

/** A terrace of a flake as the close-up shows it. */
export interface CloseUpTerrace {
  /** Index among the flake's terraces. */
  readonly terrace: number;
  readonly contrast: readonly number[];
  readonly contrastError: readonly number[];
  readonly areaUm2: number;
  /** What the close-up alone says, on a ladder for its own light. */
  readonly call: LayerCall;
  /** What both passes say together. */
  readonly together: LayerCall;
}

/** A picture for people: its file and how its pixels lie on the stage. */
export interface CloseUpPicture {
  /** Relative to the data folder. */
  readonly file: string;
  /** The same part of the frame as the camera gave it. */
  readonly rawFile: string;
  readonly widthPx: number;
  readonly heightPx: number;
  readonly centreUm: StagePoint;
  readonly cameraToStageUm: readonly [number, number, number, number];
}

/** What is kept of every close-up, whatever became of it. */
export interface CloseUpEnd {
  readonly flakeId: string;
  readonly chip: string;
  readonly opticalPath: string;
  readonly takenAtMs: number;
  /** What it took of the time for close-ups. */
  readonly tookMs: number;
}

/** A flake looked at again at high magnification, or why it was not. */
export type CloseUpRecord = CloseUpEnd &
  (
    | {
        readonly outcome: 'done';
        /** Where the picture's middle lies, in the frame of the first pass; the heights are those of this objective. */
        readonly centreUm: StagePoint;
        readonly zUm: number;
        /** Sharpness of the flake's own part, in the frame that was kept and in the least sharp one of the stack. */
        readonly sharpness: number;
        readonly leastSharpness: number;
        readonly picture: CloseUpPicture;
        readonly terraces: readonly CloseUpTerrace[];
      }
    | { readonly outcome: 'skipped'; readonly reason: string }
  );

/** What the records keep of the second pass. */
export interface CloseUpRecords {
  /** Writes a close-up with its files. Throws when the flake has one under this optical path already. */
  commitCloseUp(runId: string, closeUp: CloseUpRecord): void;
  /** In the order in which they were taken. */
  closeUps(runId: string): readonly CloseUpRecord[];
  /** Those of one flake: one under each optical path. */
  closeUpsOf(runId: string, flakeId: string): readonly CloseUpRecord[];
}
