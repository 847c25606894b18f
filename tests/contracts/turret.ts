import { describe, expect, it } from 'vitest';
import type { Turret } from '../../drivers/interfaces/index.ts';

/** What every turret must hold. `open` gives a fresh one that is free to turn. */
export function turretContract(name: string, open: () => Promise<Turret>): void {
  describe(`turret contract: ${name}`, () => {
    it('turns to every position it has, and says where it is', async () => {
      const turret = await open();
      expect(turret.positions).toBeGreaterThanOrEqual(1);
      for (let position = turret.positions - 1; position >= 0; position--) {
        await turret.moveTo(position);
        expect(await turret.position()).toBe(position);
      }
    });

    it('refuses positions that it does not have', async () => {
      const turret = await open();
      const before = await turret.position();
      for (const position of [-1, turret.positions, 0.5, Number.NaN]) {
        await expect(turret.moveTo(position)).rejects.toMatchObject({ code: 'limit' });
      }
      expect(await turret.position()).toBe(before);
    });

    it('refuses everything once closed', async () => {
      const turret = await open();
      await turret.close();
      await expect(turret.moveTo(0)).rejects.toMatchObject({ code: 'closed' });
      await expect(turret.position()).rejects.toMatchObject({ code: 'closed' });
    });
  });
}
