import type { StagePoint } from '../../planner/units/index.ts';

/** What a chip's ladder was fitted to and where it settled. */
export interface CalibrationRecord {
  /** Terraces of this chip, and layer numbers given by people, that it was fitted to. */
  readonly terraces: number;
  readonly labels: number;
  /** Oxide thickness with one standard error: means over all ways in which the ladder may stand. */
  readonly oxideNm: number;
  readonly oxideErrorNm: number;
  /** Optical thickness of a layer against the table's, per channel. */
  readonly scale: readonly number[];
}

/** What was measured of one chip beside its tiles: focus, and what its frames were read with under one optical path. */
export interface ChipRecord {
  readonly chip: string;
  /** The key under which dark level, flat field and ladder belong together. */
  readonly opticalPath: string;
  /** Dark level of each channel, linear, 0 to 1 of full scale. */
  readonly dark: readonly number[];
  /** Contrast of 0, 1, ... 10 layers, per channel; empty before the first find. */
  readonly ladder: readonly (readonly number[])[];
  /** How the ladder was calibrated; none before the first fit, or in records of before this was kept. */
  readonly calibration?: CalibrationRecord;
  readonly focusPoints: readonly { readonly atUm: StagePoint; readonly zUm: number; readonly errorUm: number }[];
  readonly flat?: { readonly columns: number; readonly rows: number; readonly channels: number; readonly frames: number; readonly values: readonly number[] };
}
