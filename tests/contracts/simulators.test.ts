import { guardInstrument } from '../../drivers/safety/gate.ts';
import type { Instrument } from '../../drivers/interfaces/index.ts';
import { simulatorLimits, smallMicroscope } from '../simulators/smallMicroscope.ts';
import { cameraContract } from './camera.ts';
import { fieldStopContract } from './fieldStop.ts';
import { focusDriveContract } from './focusDrive.ts';
import { lampContract } from './lamp.ts';
import { stageContract } from './stage.ts';
import { turretContract } from './turret.ts';

function allContracts(name: string, mostLight: number, open: () => Instrument): void {
  stageContract(name, async () => open());
  focusDriveContract(name, async () => open());
  cameraContract(name, async () => open());
  turretContract(name, async () => open().turret);
  lampContract(name, mostLight, async () => open().lamp);
  fieldStopContract(name, async () => open().fieldStop);
}

allContracts('simulated', 1, () => smallMicroscope({ fieldStop: { offsetUm: 12 } }).instrument);
allContracts('simulated, behind the gate', simulatorLimits.maxLampIntensity, () => guardInstrument(smallMicroscope({ fieldStop: { offsetUm: 12 } }).instrument, simulatorLimits));
cameraContract('simulated, 12 bit', async () => {
  const camera = { widthPx: 32, heightPx: 24, bits: 12, transfer: 'srgb', readoutMs: 5 } as const;
  return smallMicroscope({ camera }).instrument;
});
