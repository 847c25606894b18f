/** What a fake controller is made of; lengths in mm, as its firmware counts. */
export interface FirmwareBuild {
  readonly stepsPerMm: readonly [number, number, number];
  readonly maxRateMmPerMin: readonly [number, number, number];
  readonly accelerationMmPerS2: readonly [number, number, number];
  readonly travelMm: readonly [number, number, number];
  /** Whether switches are fitted, and $20, $21 and $22 are on. */
  readonly hasSwitches: boolean;
  /** Which axes home towards the low end ($23), one bit an axis. */
  readonly homesLow: number;
  /** Value of $10: 1 machine position, 0 work position, 2 added for the buffers. */
  readonly statusMask: number;
  /** Work offset, told as WCO. */
  readonly workOffsetMm: readonly [number, number, number];
  readonly homingMs: number;
  /** From power or reset until the banner. */
  readonly bootMs: number;
  readonly baudRate: number;
}

/** Fast axes of a small stage; steps fine enough for 0.1 um in z. */
export const QUICK_BUILD: FirmwareBuild = {
  stepsPerMm: [4000, 4000, 10_000],
  maxRateMmPerMin: [3600, 3600, 600],
  accelerationMmPerS2: [1000, 1000, 100],
  travelMm: [20, 16, 5],
  hasSwitches: true,
  homesLow: 0,
  statusMask: 1,
  workOffsetMm: [0, 0, 0],
  homingMs: 40,
  bootMs: 15,
  baudRate: 115_200,
};

export const PULL_OFF_MM = 1;

/**
 * The settings as `$$` prints them: numbers, order and decimals of the firmware's documentation, version 1.1 (from memory). Keys are the numbers.
 */
export function settingsOf(build: FirmwareBuild): Map<number, string> {
  const flag = build.hasSwitches ? '1' : '0';
  const plain: readonly (readonly [number, string])[] = [
    [0, '10'], [1, '255'], [2, '0'], [3, '0'], [4, '0'], [5, '0'], [6, '0'], [10, String(build.statusMask)], [11, '0.010'], [12, '0.002'], [13, '0'],
    [20, flag], [21, flag], [22, flag], [23, String(build.homesLow)], [24, '25.000'], [25, '500.000'], [26, '250'], [27, PULL_OFF_MM.toFixed(3)], [30, '1000'], [31, '0'], [32, '0'],
  ];
  const perAxis = (first: number, values: readonly number[]) => values.map((value, axis) => [first + axis, value.toFixed(3)] as const);
  return new Map([
    ...plain,
    ...perAxis(100, build.stepsPerMm),
    ...perAxis(110, build.maxRateMmPerMin),
    ...perAxis(120, build.accelerationMmPerS2),
    ...perAxis(130, build.travelMm),
  ]);
}
