import { z } from 'zod';
import { exposureMs, positive, um, waitMs } from './quantities.ts';

const name = z.string().min(1).max(60);

const line = name.describe('a name under `lines`').optional();

/** How a controller is reached, and how it speaks. Several devices may be behind one line. */
export const lines = z.record(
  name,
  z.strictObject({
    serial: z
      .strictObject({
        port: z.string().min(1).max(200).describe('stable name, as `nightjar instruments` lists it: it stays the same when the plug goes elsewhere'),
        baudRate: z.number().int().min(300).max(4_000_000).default(115_200),
      })
      .optional(),
    tcp: z.strictObject({ host: z.string().min(1).max(253), port: z.number().int().min(1).max(65_535) }).optional(),
    // A file named here is read from beside the instrument file, and its text put in its place (see filesInPlace.ts).
    deviceFile: z.string().min(1).describe('for driver described: the file that says how to talk to it; see `nightjar describe`').optional(),
  }),
);

/** One axis of a G-code controller: where its own coordinates lie on the stage. */
const gcodeAxis = (letter: 'X' | 'Y' | 'Z') => z.strictObject({
  letter: z.enum(['X', 'Y', 'Z']).describe('what the controller calls it').default(letter),
  zeroAtUm: um('where the controller\'s own zero (mostly the end that it homes to) lies').default(0),
  reversed: z.boolean().describe('its coordinates grow the other way').default(false),
  stepsPerMm: positive('as it must be set in the controller, which is compared when it is opened: other steps lead to wrong places'),
});

const reference = z.enum(['homing', 'byHand']).describe('how it comes to know where it is: by its switches, or by a person who takes it to its zero').default('homing');

export const stage = z.strictObject({
  driver: z.enum(['simulated', 'gcode', 'described']).describe('which driver opens it'),
  line,
  gcode: z.strictObject({ x: gcodeAxis('X'), y: gcodeAxis('Y'), reference }).describe('driver gcode: its axes').optional(),
  maxSpeedUmPerS: positive('top speed').default(20_000),
  accelerationUmPerS2: positive('acceleration').default(100_000),
  settleMs: waitMs('wait after a move, until the picture stands').default(60),
  jerkUmPerS3: positive('largest change of acceleration, where the controller limits it: makes the forecast right').optional(),
  backlashUm: z.number().min(0).max(500).describe('taken up by approaching from the low side of both axes').default(15),
  playUm: z
    .tuple([z.number().min(0).max(500), z.number().min(0).max(500)])
    .describe('the slack itself on x and y, as measured: rows of tiles then run both ways without taking it up at each tile')
    .optional(),
});

export const focus = z.strictObject({
  driver: z.enum(['simulated', 'gcode', 'described']).describe('which driver opens it'),
  line,
  gcode: z.strictObject({ z: gcodeAxis('Z'), reference }).describe('driver gcode: its axis').optional(),
  speedUmPerS: positive('top speed').default(500),
  accelerationUmPerS2: positive('acceleration').default(10_000),
  settleMs: waitMs('wait after a move').default(20),
  takeUpUm: z.number().min(0.001).max(50).describe('every height is reached from this far below at least: more than the drive\'s play').default(1),
  expectedUm: um('height at which a chip on the holder is usually in focus with the first objective'),
  fieldStop: z
    .strictObject({
      driver: z.enum(['simulated', 'described']).describe('which driver opens it'),
      line,
      offsetUm: um('its image is sharp this much above the surface, as measured on a place with texture'),
    })
    .describe('a motorised field stop: bare oxide is then focused by its image')
    .optional(),
  warmUpMin: z.number().min(0).max(600).describe('minutes that the stand usually needs from being switched on until focus stays').default(60),
});

export const turret = z.strictObject({
  driver: z.enum(['simulated', 'described', 'byHand']).describe('which driver opens it; byHand: one objective, which nothing turns away'),
  line,
});

export const lamp = z.strictObject({
  driver: z.enum(['simulated', 'described', 'byHand']).describe('which driver opens it; byHand: nothing can switch it, so that it stays on all night'),
  line,
  kind: z.enum(['halogen', 'whiteLed']).default('halogen'),
});

const genicam = z.strictObject({
  serial: z.string().min(1).max(60).describe('serial number, as `nightjar instruments` lists it').optional(),
  address: z.string().min(1).max(60).describe('network address, where it has one').optional(),
  pixelFormat: z.string().min(1).max(40).describe('as the camera names it: Mono8, Mono12, RGB8, BayerRG8, BayerRG12 and so on; the best that it offers when left out').optional(),
  binning: z.number().int().min(1).max(16).describe('pixels put together in both directions').default(1),
  globalShutter: z.boolean().describe('all rows expose at once: the stage may move while the frame is sent; asked of the camera when left out').optional(),
  packetSize: z.union([z.literal('auto'), z.number().int().min(576).max(9000)]).describe('bytes in one network packet').default('auto'),
  trigger: z.enum(['software', 'freeRun']).describe('freeRun for cameras without a software trigger: frames begun before the call are thrown away').default('software'),
});

const rawVideo = z.strictObject({
  command: z.array(z.string().max(1000)).min(1).max(100).describe('program and arguments, one by one; it writes raw frames to its standard output'),
  pixelFormat: z.enum(['mono8', 'rgb8']).default('rgb8'),
  exposureMs: exposureMs('what the camera is set to elsewhere; the optical paths must say the same'),
  frameMs: exposureMs('from one frame to the next').default(40),
  discardFrames: z.number().int().min(1).max(50).describe('frames thrown away after each move, because nothing says when a frame was exposed').default(2),
});

export const camera = z.strictObject({
  driver: z.enum(['simulated', 'genicam', 'rawVideo', 'frameSet']).describe('which driver opens it'),
  genicam: genicam.describe('driver genicam: which camera, and how it is read').optional(),
  rawVideo: rawVideo.describe('driver rawVideo: the command that gives frames; second best, for nothing proves that a frame is new').optional(),
  frameSet: z.strictObject({ folder: z.string().min(1) }).describe('driver frameSet: stored frames, one after the other').optional(),
  widthPx: z.number().int().min(64).max(16_384),
  heightPx: z.number().int().min(64).max(16_384),
  pixelPitchUm: positive('pixel pitch on the sensor, binning included'),
  bits: z.number().int().min(8).max(16).default(8),
  transfer: z.enum(['linear', 'srgb']).describe('how light becomes a number').default('linear'),
  whiteBalance: z.enum(['substrate', 'mirror', 'unknown']).describe('what was made neutral when the channels were balanced').default('unknown'),
  readoutMs: waitMs('from the end of an exposure until the frame is there').default(40),
  checkLinearity: z.boolean().describe('before each night: twice the exposure must give twice the light within 1 %; true for real cameras when left out').optional(),
});
