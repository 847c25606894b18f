import { afterAll, afterEach, describe, it, vi } from 'vitest';
import type { GcodeController } from '../../drivers/gcode/index.ts';
import { AXES, clock, closeAll, firmware, homedStage, opened } from '../drivers/gcode/rig.ts';
import { focusDriveContract } from './focusDrive.ts';
import { findElsewhere, type Elsewhere } from './gcodeElsewhere.ts';
import { stageContract } from './stage.ts';

afterAll(closeAll);

async function homedFocus(withStage: boolean) {
  const controller = await opened(firmware(), { focus: AXES.z, ...(withStage ? { stage: AXES } : {}) });
  await controller.home();
  if (!controller.focus) throw new Error('no focus drive');
  return { focus: controller.focus, clock };
}

// Side by side: each has a controller of its own, and mostly waits for motors.
describe.concurrent('with its fake far end', () => {
  stageContract('G-code, x and y', async () => ({ stage: (await homedStage()).stage, clock }));
  stageContract('G-code, x, y and z', async () => ({ stage: (await homedStage({}, { focus: AXES.z })).stage, clock }));
  focusDriveContract('G-code, z alone', () => homedFocus(false));
  focusDriveContract('G-code, x, y and z', () => homedFocus(true));
});

/** The same suites over a controller of somebody else, one after another since there is only one. */
function contractsElsewhere({ hasHoming, noStage, noFocus, stepUm, open }: Elsewhere): void {
  let controller: GcodeController | undefined;
  const reopened = async () => {
    controller = await open();
    return controller;
  };
  vi.setConfig({ testTimeout: 240_000 });
  afterEach(async () => controller?.close());
  if (!hasHoming) console.log('NIGHTJAR_GCODE_PORT: the controller has no homing switches, so homing is not tried; the place where it stood is its reference.');
  if (noStage !== undefined) console.log(`NIGHTJAR_GCODE_PORT: the stage's contract is left out, since ${noStage}.`);
  else stageContract('G-code, elsewhere', async () => ({ stage: must((await reopened()).stage), clock, stepUm: stepUm('XY') }));
  if (noFocus !== undefined) console.log(`NIGHTJAR_GCODE_PORT: the focus drive's contract is left out, since ${noFocus}.`);
  else focusDriveContract('G-code, elsewhere', async () => ({ focus: must((await reopened()).focus), clock, stepUm: stepUm('Z') }));
}

function must<T>(device: T | undefined): T {
  if (device === undefined) throw new Error('the controller has no such device');
  return device;
}

const elsewhere = await findElsewhere();
describe('with the controller that NIGHTJAR_GCODE_PORT names', () => {
  if (elsewhere) contractsElsewhere(elsewhere);
  else it('is not tried here: the variable is not set', () => undefined);
});
