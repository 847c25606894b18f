import { opticalPathFor } from '../../daemon/config/resolve.ts';
import { travelLimitsFor } from '../../daemon/run/context.ts';
import type { MappingContext } from '../../daemon/run/focusMapping.ts';
import { understand, type NightFiles } from '../../daemon/run/openNight.ts';
import { planNight } from '../../daemon/run/planNight.ts';
import { guardInstrument } from '../../drivers/safety/gate.ts';
import { apply2, type StagePoint } from '../../planner/units/index.ts';
import type { SimulatedObjective } from '../../simulators/camera/cameraModel.ts';
import type { Renderer } from '../../simulators/camera/renderer.ts';
import { blurSigmaPx, type RenderRequest } from '../../simulators/camera/renderFrame.ts';
import { SimulatedCamera } from '../../simulators/camera/simulatedCamera.ts';
import { VirtualClock } from '../../simulators/clock/virtualClock.ts';
import { Faults } from '../../simulators/devices/faults.ts';
import { createSimulatedFocus, USUAL_FOCUS } from '../../simulators/devices/simulatedFocus.ts';
import { createSimulatedLamp } from '../../simulators/devices/simulatedLamp.ts';
import { createSimulatedStage, USUAL_STAGE } from '../../simulators/devices/simulatedStage.ts';
import { createSimulatedTurret } from '../../simulators/devices/simulatedTurret.ts';
import { randomStream, xorshift } from '../../simulators/random.ts';
import { focusHeightUm } from '../../simulators/world/surface.ts';
import type { WorldChip } from '../../simulators/world/types.ts';

/** The two objectives of the bar, with the tilt up to which chips are tilted, on a camera of 2448 x 2048 pixels of 3.45 um. */
export const OBJECTIVES = {
  '10x/0.30': { magnification: 10, numericalAperture: 0.3, tiltMrad: 5 },
  '20x/0.45': { magnification: 20, numericalAperture: 0.45, tiltMrad: 4 },
} as const;
export type ObjectiveName = keyof typeof OBJECTIVES;

export const CAMERA = { widthPx: 2448, heightPx: 2048, pixelPitchUm: 3.45 };
const START_MS = Date.UTC(2026, 0, 17, 20, 30);
const READOUT_MS = 40;
const CHIP_UM = 10_000;
const PITCH_UM = 12_000;
const MAX_BOW_UM = 10;

export interface NightMake {
  readonly seed: number;
  readonly objective: ObjectiveName;
  readonly chips: number;
  /** Share of places on which nothing can be seen. */
  readonly blankShare: number;
}

/** Chips side by side, each with a tilt in any direction up to the objective's limit, a bow up to 10 um either way, and a height of its own. */
function makeChips({ seed, objective, chips }: NightMake): readonly WorldChip[] {
  return Array.from({ length: chips }, (_, n) => {
    const random = randomStream(seed, String(n), 'focus chip');
    const tiltMrad = OBJECTIVES[objective].tiltMrad * random.next();
    const direction = random.between(0, 2 * Math.PI);
    const centreUm = { xUm: 9000 + PITCH_UM * (n % 5), yUm: 9000 + PITCH_UM * Math.floor(n / 5) };
    const surface = {
      focusUm: 1000 + random.between(-15, 15),
      tiltXMrad: tiltMrad * Math.cos(direction),
      tiltYMrad: tiltMrad * Math.sin(direction),
      // From the middle to a corner twice what it is to the middle of an edge: half, so that the whole chip bows by no more than 10 um.
      bowUm: random.between(-MAX_BOW_UM, MAX_BOW_UM) / 2,
    };
    const half = CHIP_UM / 2;
    const outlineUm = [[-1, -1], [1, -1], [1, 1], [-1, 1]].map(([x = 0, y = 0]) => ({ xUm: centreUm.xUm + x * half, yUm: centreUm.yUm + y * half }));
    return { name: `F-${n}`, centreUm, widthUm: CHIP_UM, heightUm: CHIP_UM, angleDeg: 0, outlineUm, oxideNm: 290, surface, flakes: [], blemishes: [] };
  });
}

function filesFor({ objective, chips: count }: NightMake, chips: readonly WorldChip[]): NightFiles {
  const { magnification, numericalAperture } = OBJECTIVES[objective];
  const instrument = {
    instrument: 'Bench of focus',
    limits: { xMinUm: 0, xMaxUm: 75_000, yMinUm: 0, yMaxUm: 50_000, zMinUm: 900, zMaxUm: 8000, safeHeightUm: 3000, maxLowTravelUm: 3000, maxLampIntensity: 0.9 },
    stage: { driver: 'simulated', backlashUm: 15, playUm: [12, 12] },
    focus: { driver: 'simulated', expectedUm: 1000 },
    camera: { driver: 'simulated', ...CAMERA, bits: 8, readoutMs: READOUT_MS },
    turret: { driver: 'simulated' },
    lamp: { driver: 'simulated' },
    objectives: { one: { magnification, numericalAperture, turretPosition: 0 } },
    cameraToStage: { rotationDeg: 0.4, mirrored: true },
    opticalPaths: { survey: { objective: 'one', lampIntensity: 0.6, exposureMs: 8 } },
    simulator: { seed: 1, tray: 'tiny' },
  };
  const sheet = {
    title: `${count} chips`,
    operator: { initials: 't.s.', contact: 'nobody, this is a test' },
    opticalPath: 'survey',
    chipOrder: 'asListed',
    focus: { pointsPerChip: 9, rangeUm: 60 },
    chips: chips.map(({ name, centreUm, widthUm, heightUm }) => ({
      name,
      outline: { rectangle: { centreUm: [centreUm.xUm, centreUm.yUm], widthUm, heightUm } },
      edgeMarginUm: 0,
      material: 'graphene',
      oxideNm: 290,
    })),
  };
  return understand(JSON.stringify(sheet), 'sheet', JSON.stringify(instrument), 'instrument');
}

/** What the pictures are made from. */
interface Truth {
  readonly isOnChip: (atUm: StagePoint) => boolean;
  readonly defocusUm: (atUm: StagePoint, zUm: number) => number;
}

/** One exposure as it truly was. */
export interface TrueExposure {
  readonly atUm: StagePoint;
  readonly zUm: number;
}

/** A night's instrument, all of the simulator's own but the picture, and the truth about it. */
export interface FocusNight {
  readonly context: MappingContext;
  readonly clock: VirtualClock;
  /** Exposures of the whole frame, since it was last asked. */
  takeExposures(): readonly TrueExposure[];
  /** How far from focus a height is at a true place, in um. */
  defocusUm(atUm: StagePoint, zUm: number): number;
}

/**
 * A night with the drift of the bar: a warm-up of 5 um with a time constant of 1 h, 2 um/h, one step of 8 um at a random moment of the
 * forecast, all downwards, and 3 um aside.
 */
export function makeFocusNight(make: NightMake): FocusNight {
  const world = makeChips(make);
  const files = filesFor(make, world);
  const plan = planNight(files.sheet, files.config);
  const clock = new VirtualClock({ startMs: START_MS });
  const faults = new Faults(clock);
  const { limits } = files.config;
  const travel = { xMinUm: limits.xMinUm, xMaxUm: limits.xMaxUm, yMinUm: limits.yMinUm, yMaxUm: limits.yMaxUm };
  const stage = createSimulatedStage(clock, make.seed, faults, { ...USUAL_STAGE, travel, startAtUm: { xUm: 5000, yUm: 5000 }, driftUm: 3 });
  const stepAfterMs = 1000 * plan.forecastS * randomStream(make.seed, 'night', 'step').between(0.05, 0.95);
  const focus = createSimulatedFocus(clock, make.seed, faults, {
    ...USUAL_FOCUS, zMinUm: limits.zMinUm, zMaxUm: limits.zMaxUm, startAtUm: limits.zMaxUm, warmUpUm: 5, driftUmPerH: 2, stepUm: 8, stepAfterMs,
  });
  const turret = createSimulatedTurret(clock, faults, 1);
  const lamp = createSimulatedLamp(clock, make.seed, faults);
  const { magnification, numericalAperture } = OBJECTIVES[make.objective];
  const exposures: TrueExposure[] = [];
  const path = opticalPathFor('survey', files.config);
  const objective = { magnification, numericalAperture, cameraToStageUm: path.cameraToStageUm };
  const chipAt = (atUm: StagePoint): WorldChip | undefined =>
    world.find(({ centreUm }) => Math.abs(atUm.xUm - centreUm.xUm) <= PITCH_UM / 2 && Math.abs(atUm.yUm - centreUm.yUm) <= PITCH_UM / 2);
  const isOnChip = (atUm: StagePoint): boolean => {
    const chip = chipAt(atUm);
    return chip !== undefined && Math.abs(atUm.xUm - chip.centreUm.xUm) <= CHIP_UM / 2 && Math.abs(atUm.yUm - chip.centreUm.yUm) <= CHIP_UM / 2;
  };
  const defocusUm = (atUm: StagePoint, zUm: number): number => {
    const chip = chipAt(atUm);
    return chip ? zUm - focusHeightUm(chip, atUm) : Number.NaN;
  };
  const renderer = cheapRenderer(make, objective, { isOnChip, defocusUm }, (request) => {
    if (request.region.widthPx === CAMERA.widthPx) exposures.push({ atUm: request.atUm, zUm: request.zUm });
  });
  const sight = { atUm: () => stage.trueUm(), zUm: () => focus.trueUm(), objective: () => turret.inPlace(), lampIntensity: () => lamp.trueIntensity() };
  const model = { ...CAMERA, bits: 8, transfer: 'linear' as const };
  const camera = new SimulatedCamera({ clock, stamps: clock, model, readoutMs: READOUT_MS, sight, renderer, faults });
  const instrument = guardInstrument({ clock, stage: stage.stage, focus: focus.focus, camera, turret: turret.turret, lamp: lamp.lamp }, limits);
  const context = { instrument, path, plan, sheet: files.sheet, config: files.config, travel: travelLimitsFor(files.config) };
  return { context, clock, takeExposures: () => exposures.splice(0), defocusUm };
}

/** Samples of a picture: of the part that a focus search looks at, and of the whole sensor. Every row stands for `same` rows. */
const WINDOW = { height: 64, same: 4 };
const WHOLE = { width: 1224, height: 128, same: 4 };
/** Side of the squares that show one edge, or nothing, and of the larger ones that are blank as a whole. */
const SITE_UM = 25;
const BLANK_UM = 1000;
/** Rise of an edge against the light of bare oxide: a few layers. */
const RISE = 0.25;
const OXIDE = 110;

/**
 * Pictures of fewer samples than the sensor has, which stand for all of it or a part: edges across the rows, one at a random place in each square of the
 * chip, blurred by the simulator's own rule for the true defocus there, with noise. Squares of 1 mm are blank, as many as asked for.
 */
function cheapRenderer({ seed, blankShare }: NightMake, objective: SimulatedObjective, { isOnChip, defocusUm }: Truth, told: (request: RenderRequest) => void): Renderer {
  let noise = 0x9e3779b9 ^ seed || 1;
  const blank = new Map<string, boolean>();
  const isBlank = ({ xUm, yUm }: StagePoint): boolean => {
    const key = `${Math.floor(xUm / BLANK_UM)} ${Math.floor(yUm / BLANK_UM)}`;
    const known = blank.get(key) ?? randomStream(seed, key, 'blank').next() < blankShare;
    blank.set(key, known);
    return known;
  };
  const render = async (request: RenderRequest) => {
    told(request);
    const { region, atUm, zUm, lampIntensity } = request;
    const { width, height, same } = region.widthPx === CAMERA.widthPx ? WHOLE : { ...WINDOW, width: region.widthPx };
    const data = new Uint8Array(width * height);
    const line = new Float32Array(width);
    for (let y = 0; y < height; y += same) {
      line.fill(0);
      const row = region.rowPx + ((y + same / 2) / height) * region.heightPx - CAMERA.heightPx / 2;
      drawEdges(line, (share) => {
        const [dx, dy] = apply2(objective.cameraToStageUm, region.colPx + share * region.widthPx - CAMERA.widthPx / 2, row);
        return { xUm: atUm.xUm + dx, yUm: atUm.yUm + dy };
      }, { seed, isBlank, isOnChip, sigmaPx: (at) => blurSigmaPx(objective, defocusUm(at, zUm)) });
      for (let x = 0; x < width; x++) {
        noise = xorshift(noise);
        data[y * width + x] = lampIntensity > 0 ? OXIDE * (1 - (line[x] as number)) + ((noise >>> 8) % 1000) / 250 : 0;
      }
      for (let more = 1; more < same; more++) data.copyWithin((y + more) * width, y * width, (y + 1) * width);
    }
    return { widthPx: width, heightPx: height, pixelFormat: 'mono8' as const, data };
  };
  return { render, close: async () => undefined };
}

interface Drawing {
  readonly seed: number;
  readonly isOnChip: (at: StagePoint) => boolean;
  readonly isBlank: (at: StagePoint) => boolean;
  readonly sigmaPx: (at: StagePoint) => number;
}

/** Draws the edges of one row: a strip 6 um wide wherever the row crosses a site that has one. */
function drawEdges(line: Float32Array, placeAt: (share: number) => StagePoint, { seed, isOnChip, isBlank, sigmaPx }: Drawing): void {
  let last = '';
  let wasOnChip = isOnChip(placeAt(0.5 / line.length));
  const dark = wasOnChip ? 0 : HOLDER;
  if (dark > 0) line.fill(dark);
  for (let x = 0; x < line.length; x += 2) {
    const at = placeAt((x + 0.5) / line.length);
    const isOn = isOnChip(at);
    if (isOn !== wasOnChip) drawStep(line, x, sigmaPx(at), isOn ? -HOLDER : HOLDER);
    wasOnChip = isOn;
    if (!isOn) continue;
    const key = `${Math.floor(at.xUm / SITE_UM)} ${Math.floor(at.yUm / (4 * SITE_UM))}`;
    if (key === last) continue;
    last = key;
    const hash = siteHash(seed, Math.floor(at.xUm / SITE_UM), Math.floor(at.yUm / (4 * SITE_UM)));
    if (hash % 100 >= 12 || isBlank(at)) continue;
    drawStrip(line, x, sigmaPx(at));
  }
}

function siteHash(seed: number, column: number, row: number): number {
  let h = Math.imul(seed + 1, 0x9e3779b1) ^ Math.imul(column, 0x85ebca6b) ^ Math.imul(row, 0xc2b2ae35);
  h = Math.imul(h ^ (h >>> 15), 0x2c1b3c6d);
  return (h ^ (h >>> 13)) >>> 0;
}

/** How much darker the holder is than bare oxide. */
const HOLDER = 0.8;

function drawStep(line: Float32Array, from: number, sigmaPx: number, rise: number): void {
  for (let x = Math.max(0, from - Math.ceil(3 * sigmaPx)); x < line.length; x++) line[x] = (line[x] as number) + rise * step((x - from) / sigmaPx);
}

const STRIP_PX = 18;

function drawStrip(line: Float32Array, from: number, sigmaPx: number): void {
  const reach = Math.ceil(3 * sigmaPx);
  for (let x = Math.max(0, from - reach); x < Math.min(line.length, from + STRIP_PX + reach); x++) {
    line[x] = (line[x] as number) + RISE * (step((x - from) / sigmaPx) - step((x - from - STRIP_PX) / sigmaPx));
  }
}

/** The normal distribution function, by a logistic approximation good to 0.01 (Bowling et al. 2009, from memory). */
function step(t: number): number {
  return 1 / (1 + Math.exp(-1.5976 * t - 0.07056 * t * t * t));
}
