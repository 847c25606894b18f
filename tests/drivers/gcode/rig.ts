import { createSystemClock } from '../../../drivers/clock/systemClock.ts';
import { openGcodeController, type GcodeController, type GcodeOptions } from '../../../drivers/gcode/index.ts';
import { serialOpener } from '../../../drivers/line/serialWire.ts';
import { FakeFirmware, type FakeFirmwareOptions } from '../../../simulators/farEnd/firmware/fakeFirmware.ts';
import { AXES } from './axes.ts';

export const clock = createSystemClock();

export { AXES };

const ends: (() => Promise<void> | void)[] = [];

/** For each file's `afterAll`: its tests run side by side (they mostly wait for motors), and what they opened is closed when all are done. */
export async function closeAll(): Promise<void> {
  for (const end of ends.splice(0).reverse()) await end();
}

export function atEnd(end: () => Promise<void> | void): void {
  ends.push(end);
}

/** A fake whose line is eight times as fast as usual, since most tests are not about time. */
export function firmware({ build, ...options }: Partial<FakeFirmwareOptions> = {}): FakeFirmware {
  const fake = new FakeFirmware({ clock, build: { baudRate: 921_600, ...build }, ...options });
  atEnd(() => fake.close());
  return fake;
}

export function optionsFor(fake: FakeFirmware, more: Partial<GcodeOptions> = {}): GcodeOptions {
  const line = { line: fake.stableName, baudRate: 115_200 };
  return { clock, openWire: serialOpener({ port: fake.stableName, baudRate: 115_200 }, clock), line, reference: 'homing', bootWithinMs: 500, ...more };
}

export async function opened(fake: FakeFirmware, more: Partial<GcodeOptions>): Promise<GcodeController> {
  const controller = await openGcodeController(optionsFor(fake, more));
  atEnd(() => controller.close());
  return controller;
}

/** A stage of two axes, homed. */
export async function homedStage(options: Partial<FakeFirmwareOptions> = {}, more: Partial<GcodeOptions> = {}) {
  const fake = firmware(options);
  const controller = await opened(fake, { stage: { x: AXES.x, y: AXES.y }, ...more });
  const { stage } = controller;
  if (!stage) throw new Error('no stage');
  await stage.home();
  return { fake, controller, stage };
}

/** Where the fake truly is, as stage um. */
export function trueUm(fake: FakeFirmware) {
  const [x, y, z] = fake.trueMm();
  return { xUm: AXES.x.originUm + x * 1000, yUm: AXES.y.originUm - y * 1000, zUm: AXES.z.originUm + z * 1000 };
}
