import { createSystemClock } from '../../drivers/clock/systemClock.ts';
import { MarrowbeckLt4 } from '../../simulators/farEnd/described/marrowbeckLt4.ts';
import { serveOverTcp } from '../../simulators/farEnd/described/tcpServer.ts';
import { FakeFirmware } from '../../simulators/farEnd/firmware/fakeFirmware.ts';

/** Far ends of real drivers, to try the daemon on without an instrument: a motion controller on a pseudo-terminal, and a box with turret and lamp. */
export async function startFarEnds() {
  const clock = createSystemClock();
  const motion = new FakeFirmware({ clock, build: { travelMm: [80, 55, 9], maxRateMmPerMin: [1200, 1200, 120], accelerationMmPerS2: [100, 100, 20], homingMs: 3000, bootMs: 800 }, startsAtMm: [-30, -20, -3] });
  const box = await serveOverTcp(new MarrowbeckLt4(clock));
  return {
    port: motion.stableName,
    tcpPort: box.tcpPort,
    async close() {
      motion.close();
      await box.close();
    },
  };
}
