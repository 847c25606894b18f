const floats = new Map<string, Float32Array>();

/**
 * A plane of memory that is used again from frame to frame: taking fresh memory for every frame's planes, and giving it back, costs a
 * fifth of the time that measuring takes. Its contents are whatever was there: write all of it before reading any. It belongs to the
 * caller until this thread measures its next frame; no result may hold on to it.
 * @param name of its use; two uses at one time need two names
 */
export function scratchFloats(name: string, length: number): Float32Array {
  const known = floats.get(name);
  if (known?.length === length) return known;
  const made = new Float32Array(length);
  floats.set(name, made);
  return made;
}
