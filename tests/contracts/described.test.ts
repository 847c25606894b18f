import { afterEach } from 'vitest';
import { createSystemClock } from '../../drivers/clock/systemClock.ts';
import { openDescribed, type DescribedParts } from '../../drivers/described/index.ts';
import type { Clock } from '../../drivers/interfaces/index.ts';
import { tcpOpener } from '../../drivers/line/tcpWire.ts';
import { VirtualClock } from '../../simulators/clock/virtualClock.ts';
import type { FarEnd } from '../../simulators/farEnd/described/asciiFarEnd.ts';
import { DunlinDh12 } from '../../simulators/farEnd/described/dunlinDh12.ts';
import { MarrowbeckLt4 } from '../../simulators/farEnd/described/marrowbeckLt4.ts';
import { QuillfenQf200 } from '../../simulators/farEnd/described/quillfenQf200.ts';
import { serveOverTcp } from '../../simulators/farEnd/described/tcpServer.ts';
import { devicePlan, must, openOverMemory, type DeviceFile } from '../drivers/described/rig.ts';
import { fieldStopContract } from './fieldStop.ts';
import { focusDriveContract } from './focusDrive.ts';
import { lampContract } from './lamp.ts';
import { stageContract } from './stage.ts';
import { turretContract } from './turret.ts';

/** Protects: whatever a description describes keeps the contracts of its interfaces, against fakes that share no code with the driver. */

type Make = (clock: Clock) => FarEnd;
type Opened = DescribedParts & { readonly clock: Clock };
type Way = (name: DeviceFile, make: Make, changes?: Readonly<Record<string, string>>) => Promise<Opened>;

const toClose: (() => Promise<void>)[] = [];
afterEach(async () => {
  for (const close of toClose.splice(0).reverse()) await close();
});

const inMemory: Way = async (name, make, changes) => {
  const clock = new VirtualClock({ startMs: 1_000_000 });
  const { device } = await openOverMemory(devicePlan(name, changes), make(clock), clock);
  return { ...device.parts, clock };
};

const overTcp: Way = async (name, make, changes) => {
  const clock = createSystemClock();
  const served = await serveOverTcp(make(clock));
  toClose.push(() => served.close());
  const openWire = tcpOpener({ host: '127.0.0.1', tcpPort: served.tcpPort }, clock);
  const device = await openDescribed(devicePlan(name, changes), { openWire, clock });
  toClose.push(() => device.close());
  return { ...device.parts, clock };
};

const quillfen: Make = (clock) => new QuillfenQf200(clock);
const marrowbeck: Make = (clock) => new MarrowbeckLt4(clock);
const dunlin: Make = (clock) => new DunlinDh12(clock);
/** The same stage told by ways instead of places, and without a question whether it moves. */
const byWays = {
  '{ send: "MA {x} {y}", expect: "OK" }': '{ send: "MR {dx} {dy}", expect: "OK" }',
  [`    checks:
      - send: "?S"
        busy: ["S M"]
        done: ["S I"]
        failed:
          - { line: "S A {code:integer}", means: alarm }
`]: '',
};

/** Less to travel, where time is real. */
const shortWays = { 'xMaxUm: 20000, yMinUm: 0, yMaxUm: 12000': 'xMaxUm: 5000, yMinUm: 0, yMaxUm: 3000', 'zMaxUm: 2000': 'zMaxUm: 700' };

function contracts(way: string, open: Way, changes: Readonly<Record<string, string>> = {}): void {
  stageContract(`described, ${way}`, async () => {
    const { stage, clock } = await open('quillfen-qf200', quillfen, changes);
    return { stage: must(stage), clock };
  });
  focusDriveContract(`described, ${way}`, async () => {
    const { focus, clock } = await open('quillfen-qf200', quillfen, changes);
    return { focus: must(focus), clock };
  });
  turretContract(`described, ${way}`, async () => must((await open('marrowbeck-lt4', marrowbeck)).turret));
  lampContract(`SCPI, ${way}`, 0.9, async () => must((await open('dunlin-dh12-scpi', dunlin)).lamp));
}

contracts('in virtual time', inMemory);
turretContract('described filter wheel', async () => must((await inMemory('marrowbeck-lt4', marrowbeck)).filterWheel));
lampContract('described', 1, async () => must((await inMemory('marrowbeck-lt4', marrowbeck)).lamp));
fieldStopContract('described', async () => (await inMemory('marrowbeck-lt4', marrowbeck)).fieldStop);
contracts('over TCP', overTcp, shortWays);
stageContract('described by ways, without a question for its standing still', async () => {
  const { stage, clock } = await inMemory('quillfen-qf200', quillfen, byWays);
  return { stage: must(stage), clock };
});
