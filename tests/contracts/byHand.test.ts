import { openLampByHand } from '../../drivers/byHand/lamp.ts';
import { openTurretByHand } from '../../drivers/byHand/turret.ts';
import { lampContract } from './lamp.ts';
import { turretContract } from './turret.ts';

lampContract('by hand', 1, async () => openLampByHand());
turretContract('by hand', async () => openTurretByHand());
