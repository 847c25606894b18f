import { afterAll, describe, expect, it } from 'vitest';
import { createSystemClock } from '../../drivers/clock/systemClock.ts';
import { openGenicamCamera, type CameraChoice, type GenicamCamera, type GenicamOptions } from '../../drivers/genicam/index.ts';
import { startFakeCamera, whyNoFakeCamera } from '../drivers/genicam/fakeCamera.ts';
import { cameraContract, type OpenedCamera } from './camera.ts';

const clock = createSystemClock();

/** One program at a time can hold a camera: each test closes the one before. */
function opener(options: Omit<GenicamOptions, 'clock'>): { readonly open: () => Promise<OpenedCamera>; readonly close: () => Promise<void> } {
  let last: GenicamCamera | undefined;
  const close = async () => {
    await last?.close();
    last = undefined;
  };
  const open = async () => {
    await close();
    last = await openGenicamCamera({ clock, ...options });
    return { camera: last, clock };
  };
  return { open, close };
}

function contractOf(name: string, options: Omit<GenicamOptions, 'clock'>, end: () => void): void {
  describe(name, () => {
    const { open, close } = opener(options);
    afterAll(async () => {
      await close();
      end();
    });
    cameraContract(name, open);
  });
}

const named = process.env.NIGHTJAR_CAMERA;
const without = await whyNoFakeCamera();
if (named !== undefined) {
  const camera: CameraChoice = /^[\d.]+$/.test(named) && named.includes('.') ? { address: named } : { serial: named };
  contractOf(`GenICam camera ${named}`, { camera }, () => undefined);
} else if (without !== undefined) {
  console.info(without);
  describe('GenICam camera', () => {
    it('is left out, for a reason', () => {
      expect(without).toMatch(/not tested here\.$/);
    });
  });
} else {
  const fake = startFakeCamera(`NJ-${process.pid}`);
  // Small pictures and large packets: the contract asks for what is right, the bench for what is quick.
  contractOf("Debian's fake GigE Vision camera", { camera: { address: '127.0.0.1' }, binning: 8, packetSize: 8000 }, () => fake.kill());
}
