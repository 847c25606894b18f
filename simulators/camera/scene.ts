import { filmColour, type Colour, type Film } from '../optics/films.ts';
import { createLightPath, type LampKind, type LightPath } from '../optics/lightPath.ts';
import { makeWorld } from '../world/makeWorld.ts';
import { remountedWorld, type Remounting } from '../world/remount.ts';
import type { Tray, World, WorldChip } from '../world/types.ts';
import { sensorDark, sensorField, type CameraModel, type SimulatedObjective } from './cameraModel.ts';
import type { Sensor } from './expose.ts';

/** All that a picture depends on beside where and how it is taken; plain data, so that a worker can build the same scene. */
export interface SceneOptions {
  readonly seed: number;
  readonly tray: Tray;
  readonly camera: CameraModel;
  readonly objectives: readonly SimulatedObjective[];
  readonly lamp: LampKind;
  /** Chips that lie elsewhere than the tray has them, by name. */
  readonly remounted?: Readonly<Record<string, Remounting>>;
}

export interface Scene {
  readonly options: SceneOptions;
  readonly world: World;
  readonly path: LightPath;
  readonly sensor: Sensor;
  /** What a film on a chip looks like through an objective, stray light included; bare oxide when left out. */
  colourOf(chip: WorldChip, objective: number, film?: Film): Colour;
}

export function objectiveOf({ objectives }: SceneOptions, index: number): SimulatedObjective {
  const objective = objectives[index];
  if (!objective) throw new RangeError(`no objective in position ${index}`);
  return objective;
}

/** Thick films are told apart to this many nm only, so that few colours need computing. */
const THICK_STEP_NM = 1;
const THICK_FROM_NM = 8;

function rounded(film: Film): Film {
  if (film.thicknessNm < THICK_FROM_NM) return film;
  return { ...film, thicknessNm: Math.round(film.thicknessNm / THICK_STEP_NM) * THICK_STEP_NM };
}

export function createScene(options: SceneOptions): Scene {
  const world = remountedWorld(makeWorld(options.seed, options.tray), options.remounted ?? {});
  const path = createLightPath(options.seed, options.lamp);
  const colours = new Map<string, Colour>();
  const plain = (chip: WorldChip, objective: number, film: Film | undefined): Colour => {
    const key = `${chip.name} ${objective} ${film?.material} ${film?.thicknessNm}`;
    const known = colours.get(key);
    if (known) return known;
    const made = filmColour(path, objectiveOf(options, objective).numericalAperture, chip.oxideNm, film);
    colours.set(key, made);
    return made;
  };
  return {
    options,
    world,
    path,
    sensor: { field: sensorField(options.seed, options.camera), dark: sensorDark(options.seed, options.camera) },
    colourOf(chip, objective, film) {
      const bare = plain(chip, objective, undefined);
      const own = film ? plain(chip, objective, rounded(film)) : bare;
      return [own[0] + path.flare * bare[0], own[1] + path.flare * bare[1], own[2] + path.flare * bare[2]];
    },
  };
}
