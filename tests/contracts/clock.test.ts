import { createSystemClock } from '../../drivers/clock/systemClock.ts';
import { VirtualClock } from '../../simulators/clock/virtualClock.ts';
import { clockContract } from './clock.ts';

clockContract('system clock', createSystemClock);
clockContract('virtual clock', () => new VirtualClock({ startMs: 1_000_000 }));
