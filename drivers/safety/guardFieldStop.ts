import type { FieldStop } from '../interfaces/index.ts';
import { requireWithin } from './bounds.ts';

/** A field stop that refuses with `limit` what is no opening. */
export function guardFieldStop(raw: FieldStop): FieldStop {
  return {
    opening: () => raw.opening(),
    async setOpening(fraction) {
      requireWithin('limit', 'field stop', fraction, 0, 1);
      return raw.setOpening(fraction);
    },
    close: () => raw.close(),
  };
}
