import { describe, expect, it } from 'vitest';
import type { Lamp } from '../../drivers/interfaces/index.ts';

/** What every lamp must hold. `open` gives a fresh one; `max` is the most that may be asked of it. */
export function lampContract(name: string, max: number, open: () => Promise<Lamp>): void {
  describe(`lamp contract: ${name}`, () => {
    it('gives the intensity that it was set to, from none to the most', async () => {
      const lamp = await open();
      for (const fraction of [0, max / 2, max, max / 8, 0]) {
        await lamp.setIntensity(fraction);
        expect(Math.abs((await lamp.intensity()) - fraction)).toBeLessThanOrEqual(0.01);
      }
    });

    it('refuses less than nothing, more than the most, and what is no number', async () => {
      const lamp = await open();
      await lamp.setIntensity(max / 2);
      for (const fraction of [-0.01, max + 0.01, Number.NaN]) {
        await expect(lamp.setIntensity(fraction)).rejects.toMatchObject({ code: 'lampLimit' });
      }
      expect(Math.abs((await lamp.intensity()) - max / 2)).toBeLessThanOrEqual(0.01);
    });

    it('refuses everything once closed', async () => {
      const lamp = await open();
      await lamp.close();
      await expect(lamp.setIntensity(0)).rejects.toMatchObject({ code: 'closed' });
      await expect(lamp.intensity()).rejects.toMatchObject({ code: 'closed' });
    });
  });
}
