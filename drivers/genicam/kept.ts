import { LibraryError, type Handle } from './fallible.ts';
import type { Library } from './library.ts';

/** One number that is the user's to choose and ours to keep: with a selector, one for each of its places. */
interface KeptFeature {
  readonly feature: string;
  readonly selector?: { readonly feature: string; readonly places: readonly string[] };
}

/**
 * What somebody has set on the camera for good reasons, and what a camera that lost its power has forgotten: white balance and black
 * level. Standard Features Naming Convention, from memory.
 */
const features: readonly KeptFeature[] = [
  { feature: 'BalanceRatio', selector: { feature: 'BalanceRatioSelector', places: ['Red', 'Green', 'Blue'] } },
  { feature: 'BlackLevel' },
];

/** A value as it stood when the camera was first opened. */
export interface KeptValue {
  readonly feature: string;
  readonly selector?: { readonly feature: string; readonly place: string };
  readonly value: number;
}

/** Undefined for what the camera does not have, or has in another form. */
function readOne(library: Library, camera: Handle, feature: string, selector?: { readonly feature: string; readonly place: string }): KeptValue | undefined {
  try {
    if (selector) library.setText(camera, selector.feature, selector.place);
    return { feature, ...(selector ? { selector } : {}), value: library.getFloat(camera, feature) };
  } catch (error) {
    if (error instanceof LibraryError && error.problem === 'other') return undefined;
    throw error;
  }
}

/** Reads what is to be kept. */
export function readKept(library: Library, camera: Handle): readonly KeptValue[] {
  const kept = features.flatMap(({ feature, selector }) => {
    if (library.hasFeature(camera, feature) === 0) return [];
    if (!selector) return [readOne(library, camera, feature)];
    return selector.places.map((place) => readOne(library, camera, feature, { feature: selector.feature, place }));
  });
  return kept.filter((each) => each !== undefined);
}

/** Sets again what a camera has forgotten. */
export function restoreKept(library: Library, camera: Handle, kept: readonly KeptValue[]): void {
  for (const { feature, selector, value } of kept) {
    if (selector) library.setText(camera, selector.feature, selector.place);
    if (library.getFloat(camera, feature) !== value) library.setFloat(camera, feature, value);
  }
}
