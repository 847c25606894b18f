import { createSystemClock } from '../../drivers/clock/systemClock.ts';
import type { DriverError } from '../../drivers/interfaces/index.ts';
import { openGcodeController, type GcodeAxis, type GcodeController, type GcodeOptions, type Remembered } from '../../drivers/gcode/index.ts';
import { Conversation } from '../../drivers/gcode/conversation.ts';
import { newTally } from '../../drivers/gcode/counters.ts';
import { firstStatus, readSettings, untilAtRest } from '../../drivers/gcode/introduce.ts';
import type { Settings } from '../../drivers/gcode/settings.ts';
import { serialOpener } from '../../drivers/line/serialWire.ts';

/** A controller that is not ours: named by NIGHTJAR_GCODE_PORT, its baud rate by NIGHTJAR_GCODE_BAUD. */
export interface Elsewhere {
  readonly hasHoming: boolean;
  /** Why a device is left out; `undefined` where it takes part. */
  readonly noStage: string | undefined;
  readonly noFocus: string | undefined;
  readonly stepUm: (letters: string) => number;
  open(): Promise<GcodeController>;
}

const clock = createSystemClock();
/** What the suites need of an axis: a stage's speed test is longest at 5 mm/s for 0.2 s over 0.6 of it. */
const WANTED_MM = 4;
const LEAST_MM = 2.5;
const LETTERS = ['X', 'Y', 'Z'] as const;

async function settingsAt(port: string, baudRate: number): Promise<Settings> {
  const about = { line: port, baudRate };
  const talk = new Conversation(clock, newTally(), about, { restarted: () => undefined, alarmed: () => undefined, puzzled: () => undefined, lost: () => undefined });
  talk.attach(await serialOpener({ port, baudRate }, clock)(talk));
  try {
    await firstStatus(talk, clock, about, 8000);
    await untilAtRest(talk, clock, about);
    return await readSettings(talk, about);
  } finally {
    await talk.close();
  }
}

/** Where an axis may be driven: from its switch into its travel, or round the place where it stands. Um are the machine's mm times 1000 in one direction or the other. */
function axisFor(index: 0 | 1 | 2, settings: Settings): GcodeAxis {
  const travelMm = settings.get(130 + index) ?? 0;
  const pullOffMm = settings.get(27) ?? 1;
  const isLow = ((settings.get(23) ?? 0) & (1 << index)) !== 0;
  // Focus grows away from the chip, and homing must do so too.
  const sign = index === 2 && isLow ? -1 : 1;
  const lengthMm = Math.min(WANTED_MM, travelMm - 2 * pullOffMm);
  const stepsPerMm = settings.get(100 + index) ?? 0;
  const plain = { letter: LETTERS[index], sign, originUm: 0, stepsPerMm } as const;
  if (settings.get(22) !== 1) return { ...plain, minUm: -500 * lengthMm, maxUm: 500 * lengthMm };
  const [fromMm, toMm] = isLow ? [pullOffMm - travelMm, pullOffMm - travelMm + lengthMm] : [-pullOffMm - lengthMm, -pullOffMm];
  const ends = [sign * fromMm * 1000, sign * toMm * 1000];
  return { ...plain, minUm: Math.min(...ends), maxUm: Math.max(...ends) };
}

/** Opened with what was known before; homed, or its place taken as the reference, only where that is not enough. */
async function openKnown(options: GcodeOptions): Promise<GcodeController> {
  const controller = await openGcodeController(options);
  const isKnown = await (controller.stage ?? controller.focus)?.position().then(
    () => true,
    (error: unknown) => (error as DriverError).code !== 'positionLost',
  );
  if (isKnown) return controller;
  await (options.reference === 'homing' ? controller.home() : controller.takeReference());
  return controller;
}

/** Asks the controller what it is, and lays the suites' axes into its own travel. `undefined` where none is named. */
export async function findElsewhere(): Promise<Elsewhere | undefined> {
  const port = process.env['NIGHTJAR_GCODE_PORT'];
  if (port === undefined || port === '') return undefined;
  const baudRate = Number(process.env['NIGHTJAR_GCODE_BAUD'] ?? '115200');
  const settings = await settingsAt(port, baudRate);
  const [x, y, z] = [axisFor(0, settings), axisFor(1, settings), axisFor(2, settings)];
  const tooShort = (axes: readonly GcodeAxis[]) => axes.find(({ minUm, maxUm }) => maxUm - minUm < LEAST_MM * 1000);
  const because = (axis: GcodeAxis | undefined) => (axis ? `the travel of ${axis.letter} is below ${LEAST_MM} mm` : undefined);
  const [noStage, noFocus] = [because(tooShort([x, y])), because(tooShort([z]))];
  const hasHoming = settings.get(22) === 1;
  let remembered: Remembered | undefined;
  const memory = {
    recall: () => remembered,
    keep: (next: Remembered | undefined) => {
      remembered = next;
    },
  };
  const devices = { ...(noStage === undefined ? { stage: { x, y } } : {}), ...(noFocus === undefined ? { focus: z } : {}) };
  const options: GcodeOptions = { clock, openWire: serialOpener({ port, baudRate }, clock), line: { line: port, baudRate }, reference: hasHoming ? 'homing' : 'byHand', memory, ...devices };
  return {
    hasHoming,
    noStage,
    noFocus,
    stepUm: (letters) => Math.max(...[...letters].map((letter) => 1000 / (settings.get(100 + LETTERS.findIndex((one) => one === letter)) ?? 1))),
    open: () => openKnown(options),
  };
}
