import { z } from 'zod';
import { done, fractionScale, lengthScale, ms, patterns, reference, speed, step, steps } from './schemaSteps.ts';

const STOP = 'the command that halts it at once; what moves and cannot be stopped is not accepted';
const um = (describe: string) => z.number().describe(describe);
const topSpeed = z.number().positive().describe('its top speed');

const home = z
  .strictObject({ steps: steps('what is sent to home it'), withinMs: z.number().min(1).max(600_000).describe('longest time that homing takes').default(120_000) })
  .describe('how it finds its reference position');

const takeReference = steps('what is sent when a person says that it stands at its reference place, such as a command that makes this its zero').optional();

const stage = z.strictObject({
  travel: z.strictObject({ xMinUm: um('end of its travel'), xMaxUm: um('end of its travel'), yMinUm: um('end of its travel'), yMaxUm: um('end of its travel') }).describe('where it can go'),
  x: lengthScale('units of the x axis'),
  y: lengthScale('units of the y axis'),
  maxSpeedUmPerS: topSpeed,
  speed: speed.optional(),
  toleranceUm: z.number().positive().max(1000).describe('it has arrived when it is this near').default(1),
  position: steps('how its position is asked, answered with {x:number} and {y:number}'),
  moveTo: steps('how it is sent to {x} and {y}, or by {dx} and {dy}'),
  stop: steps(STOP),
  home: home.optional(),
  takeReference,
  done,
  reference: reference.optional(),
});

const focus = z.strictObject({
  zMinUm: um('lower end, near the chip'),
  zMaxUm: um('upper end, away from the chip'),
  z: lengthScale('units of the drive; larger um are further from the chip'),
  maxSpeedUmPerS: topSpeed,
  speed: speed.optional(),
  toleranceUm: z.number().positive().max(100).describe('it has arrived when it is this near').default(0.1),
  position: steps('how its height is asked, answered with {z:number}'),
  moveTo: steps('how it is sent to {z}, or by {dz}'),
  stop: steps(STOP),
  home: home.describe('how it finds its reference position, which must lie at its upper end').optional(),
  takeReference,
  done,
  reference: reference.optional(),
});

/** What moves, but is not halted by the run: it may say that it has no stop. */
const smallMover = {
  stop: steps('the command that halts it').optional(),
  cannotStop: z.boolean().describe('it has no command that halts it, and people have been told').default(false),
  done,
};

const positions = z.strictObject({
  positions: z.number().int().min(1).max(100).describe('how many it has'),
  first: z.number().int().min(0).max(100).describe('the number that the device gives the first one').default(0),
  position: steps('how its position is asked, answered with {position:integer}'),
  moveTo: steps('how it is sent to {position}'),
  ...smallMover,
});

const fieldStop = z.strictObject({
  scale: fractionScale,
  tolerance: z.number().positive().max(0.1).describe('share of the full opening within which it has arrived').default(0.01),
  position: steps('how its opening is asked, answered with {opening:number}'),
  moveTo: steps('how it is set to {opening}'),
  ...smallMover,
});

const lamp = z.strictObject({
  scale: fractionScale,
  maxIntensity: z.number().positive().max(1).describe('the most that may be asked of it, as a fraction').default(1),
  set: steps('how it is set to {intensity}'),
  off: steps('how it is switched off; without it, {intensity} is set to 0').optional(),
  read: steps('how its light is asked, answered with {intensity:number}').optional(),
  settleMs: ms('wait after a change').default(0),
});

const shutter = z.strictObject({
  open: steps('how it is opened'),
  shut: steps('how it is shut'),
  state: z.strictObject({ send: step.shape.send, open: z.array(z.string().min(1).max(200)).min(1).max(20).describe('answers when it is open'), shut: patterns('answers when it is shut').min(1) }).describe('how its state is asked'),
  settleMs: ms('time that it takes').default(0),
});

/** What one described device may be; at least one of these. */
export const parts = {
  stage: stage.describe('an xy stage').optional(),
  focus: focus.describe('a focus drive').optional(),
  turret: positions.describe('an objective turret').optional(),
  filterWheel: positions.describe('a filter wheel').optional(),
  lamp: lamp.describe('a lamp').optional(),
  shutter: shutter.describe('a shutter').optional(),
  fieldStop: fieldStop.describe('a motorised field stop').optional(),
};
