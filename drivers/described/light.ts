import { DriverError, type Clock, type Lamp } from '../interfaces/index.ts';
import type { Dialogue } from './dialogue.ts';
import type { LampPlan, ShutterPlan } from './plan.ts';
import { fromUnits, numberText, toUnits } from './scale.ts';
import { askYesNo } from './whereabouts.ts';

type OnClosed = () => Promise<void>;

/** A lamp. Without a way to read it, its intensity is what it was last set to on this line. */
export function describedLamp(plan: LampPlan, dialogue: Dialogue, clock: Clock, onClosed: OnClosed): Lamp {
  const { scale, maxIntensity, set, off, read, settleMs } = plan;
  let isClosed = false;
  let last: { readonly fraction: number; readonly epoch: number } | undefined;
  const requireOpen = (): void => {
    if (isClosed) throw new DriverError('closed', { device: 'lamp' });
  };
  return {
    async intensity() {
      requireOpen();
      if (!read) {
        if (last?.epoch !== dialogue.epoch) throw new DriverError('unsupported', { device: 'lamp', what: 'reading its light: its description has no read, and it was not set yet' });
        return last.fraction;
      }
      const units = (await dialogue.run(read)).get('intensity');
      if (typeof units !== 'number') throw new DriverError('badReply', { device: 'lamp', what: 'no intensity' });
      return fromUnits(scale, units);
    },
    async setIntensity(fraction) {
      requireOpen();
      if (!(fraction >= 0 && fraction <= maxIntensity)) throw new DriverError('lampLimit', { device: 'lamp', asked: fraction, max: maxIntensity });
      last = undefined;
      if (fraction === 0 && off) await dialogue.run(off);
      else await dialogue.run(set, { values: { intensity: numberText(toUnits(scale, fraction), scale) } });
      await clock.sleep(settleMs);
      last = { fraction, epoch: dialogue.epoch };
    },
    async close() {
      isClosed = true;
      await onClosed();
    },
  };
}

/** A shutter in the shape of a lamp that is only on or off: 1 is open, 0 is shut, anything between is `unsupported`. */
export function describedShutter(plan: ShutterPlan, dialogue: Dialogue, clock: Clock, onClosed: OnClosed): Lamp {
  let isClosed = false;
  const requireOpen = (): void => {
    if (isClosed) throw new DriverError('closed', { device: 'shutter' });
  };
  return {
    async intensity() {
      requireOpen();
      return (await askYesNo(dialogue, plan.state)) ? 1 : 0;
    },
    async setIntensity(fraction) {
      requireOpen();
      if (!(fraction >= 0 && fraction <= 1)) throw new DriverError('lampLimit', { device: 'shutter', asked: fraction, max: 1 });
      if (fraction !== 0 && fraction !== 1) throw new DriverError('unsupported', { device: 'shutter', what: 'anything between open (1) and shut (0)', asked: fraction });
      await dialogue.run(fraction === 1 ? plan.open : plan.shut);
      await clock.sleep(plan.settleMs);
      const isOpen = await askYesNo(dialogue, plan.state);
      if (isOpen !== (fraction === 1)) throw new DriverError('stalled', { device: 'shutter', asked: fraction === 1 ? 'open' : 'shut', is: isOpen ? 'open' : 'shut' });
    },
    async close() {
      isClosed = true;
      await onClosed();
    },
  };
}
