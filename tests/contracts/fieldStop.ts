import { describe, expect, it } from 'vitest';
import type { FieldStop } from '../../drivers/interfaces/index.ts';

/** What every field stop must hold. `open` gives a fresh one, fully open. */
export function fieldStopContract(name: string, open: () => Promise<FieldStop | undefined>): void {
  const fresh = async (): Promise<FieldStop> => {
    const stop = await open();
    if (!stop) throw new Error('no field stop');
    return stop;
  };

  describe(`field stop contract: ${name}`, () => {
    it('stands where it was set to', async () => {
      const stop = await fresh();
      for (const fraction of [0.1, 1, 0, 0.5]) {
        await stop.setOpening(fraction);
        expect(Math.abs((await stop.opening()) - fraction)).toBeLessThanOrEqual(0.02);
      }
    });

    it('refuses what is no opening, and stays', async () => {
      const stop = await fresh();
      await stop.setOpening(0.5);
      for (const fraction of [-0.01, 1.01, Number.NaN]) await expect(stop.setOpening(fraction)).rejects.toMatchObject({ code: 'limit' });
      expect(Math.abs((await stop.opening()) - 0.5)).toBeLessThanOrEqual(0.02);
    });

    it('refuses everything once closed down', async () => {
      const stop = await fresh();
      await stop.close();
      await expect(stop.setOpening(1)).rejects.toMatchObject({ code: 'closed' });
      await expect(stop.opening()).rejects.toMatchObject({ code: 'closed' });
    });
  });
}
