import { createHash } from 'node:crypto';
import type { Draw } from '../../planner/secondJudging/order.ts';

/**
 * Draws by a secret and a key: the same always for both, and not to be told without the secret. First the 32 bits that say whether, then those
 * that say when.
 */
export function drawBy(secret: string): Draw {
  return (key) => {
    const bytes = createHash('sha256').update(`${secret}\n${key}`).digest();
    return [bytes.readUInt32BE(0) / 2 ** 32, bytes.readUInt32BE(4) / 2 ** 32];
  };
}
