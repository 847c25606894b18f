import { DriverError } from '../interfaces/index.ts';
import type { Watch } from './watch.ts';

/**
 * A person says where a device stands: what every height and place is counted from changes. Nothing may move meanwhile, and no other move
 * may be checked by half of the old count and half of the new.
 */
export async function takeReferenceAtRest(watch: Watch, take: () => Promise<void>): Promise<void> {
  return watch.admit(async () => {
    const { stage, focus, turret } = watch;
    if (stage.isMoving || focus.isMoving || turret.isMoving) throw new DriverError('unsupported', { what: 'a reference while something moves' });
    await stage.settle();
    await focus.settle();
    await take();
    return async () => undefined;
  });
}
