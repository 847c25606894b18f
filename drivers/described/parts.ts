import { DriverError, type FieldStop, type FocusDrive, type Stage, type Turret } from '../interfaces/index.ts';
import type { Mover } from './mover.ts';
import type { PartPlans } from './plan.ts';

// The movers as what they are to the rest of the house. `onClosed` is called once a part has been closed.

type OnClosed = () => Promise<void>;

function closing(mover: Mover, onClosed: OnClosed): () => Promise<void> {
  return async () => {
    await mover.close();
    await onClosed();
  };
}

function requireWithin(device: string, name: string, value: number, min: number, max: number): void {
  if (!(value >= min && value <= max)) throw new DriverError('limit', { device, what: name, asked: value, min, max });
}

function stagePoint([xUm = Number.NaN, yUm = Number.NaN]: readonly number[]): { readonly xUm: number; readonly yUm: number } {
  return { xUm, yUm };
}

export function describedStage(mover: Mover, { mover: { takeReference }, travel }: NonNullable<PartPlans['stage']>, onClosed: OnClosed): Stage {
  return {
    travel,
    position: async () => stagePoint(await mover.place()),
    state: () => mover.state(),
    async moveTo({ xUm, yUm }, options) {
      requireWithin('stage', 'xUm', xUm, travel.xMinUm, travel.xMaxUm);
      requireWithin('stage', 'yUm', yUm, travel.yMinUm, travel.yMaxUm);
      return stagePoint(await mover.moveTo([xUm, yUm], options));
    },
    home: (signal) => mover.home(signal),
    ...(takeReference && { takeReference: () => mover.takeReference() }),
    stop: () => mover.stop(),
    close: closing(mover, onClosed),
  };
}

export function describedFocus(mover: Mover, { mover: { home, takeReference }, zMinUm, zMaxUm }: NonNullable<PartPlans['focus']>, onClosed: OnClosed): FocusDrive {
  const height = ([zUm = Number.NaN]: readonly number[]): number => zUm;
  return {
    zMinUm,
    zMaxUm,
    position: async () => height(await mover.place()),
    async moveTo(zUm, options) {
      requireWithin('focus', 'zUm', zUm, zMinUm, zMaxUm);
      return height(await mover.moveTo([zUm], options));
    },
    ...(home && { home: (signal?: AbortSignal) => mover.home(signal) }),
    ...(takeReference && { takeReference: () => mover.takeReference() }),
    stop: () => mover.stop(),
    close: closing(mover, onClosed),
  };
}

/** A turret, or a filter wheel, which is one without objectives. */
export function describedTurret(device: 'turret' | 'filterWheel', mover: Mover, positions: number, onClosed: OnClosed): Turret {
  return {
    positions,
    async position() {
      const [position = Number.NaN] = await mover.place();
      const isOne = Number.isInteger(position) && position >= 0 && position < positions;
      if (!isOne) throw new DriverError('badReply', { device, position, positions });
      return position;
    },
    async moveTo(position) {
      const isOne = Number.isInteger(position) && position >= 0 && position < positions;
      if (!isOne) throw new DriverError('limit', { device, position, positions });
      await mover.moveTo([position]);
    },
    close: closing(mover, onClosed),
  };
}

export function describedFieldStop(mover: Mover, onClosed: OnClosed): FieldStop {
  return {
    async opening() {
      const [fraction = Number.NaN] = await mover.place();
      return fraction;
    },
    async setOpening(fraction) {
      requireWithin('fieldStop', 'opening', fraction, 0, 1);
      await mover.moveTo([fraction]);
    },
    close: closing(mover, onClosed),
  };
}
