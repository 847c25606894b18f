import { describe } from 'vitest';
import { AXES, clock, firmware, homedStage, opened } from '../drivers/gcode/rig.ts';
import { focusDriveContract } from './focusDrive.ts';
import { stageContract } from './stage.ts';

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
