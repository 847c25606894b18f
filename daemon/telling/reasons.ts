import type { Flake, Terrace } from '../../planner/flakes/types.ts';
import type { FlakeNote } from '../../planner/flakes/shape/types.ts';

/** Of this probability that random directions would agree as well, straight edges speak for a crystal (common practice, no source). */
const unlikely = 0.05;

/** The terrace that a flake is ranked by. */
export function terraceThatCounts(flake: Flake): Terrace | undefined {
  return flake.terraces.find((terrace) => terrace.call.layers === flake.layers && terrace.inscribedUm === flake.usableUm) ?? flake.terraces[0];
}

/** What speaks for a flake, from what was measured of it. */
export function reasonsFor({ usableUm, bar, clearance, cleanliness, edgeFamily }: Flake): readonly string[] {
  return [
    `a circle of ${figure(usableUm)} µm fits`,
    ...(bar ? [`a bar of ${figure(bar.lengthUm)} × ${figure(bar.widthUm)} µm fits`] : []),
    ...(cleanliness ? [cleanliness.blemishes === 0 ? 'nothing lies on it' : `${Math.floor(100 * cleanliness.share)} % of it is clean`] : []),
    ...(clearance && clearance.gapUm > 0 ? [`${clearance.nearest === undefined ? 'nothing else within' : 'the nearest other thing is'} ${figure(clearance.gapUm)} µm${clearance.nearest === undefined ? '' : ' away'}`] : []),
    ...(edgeFamily && edgeFamily.chance <= unlikely ? [`${edgeFamily.members} of ${edgeFamily.directions} straight edges agree with a crystal's`] : []),
  ];
}

/** What a person should look at before trusting it. */
export function cautionsFor(flake: Flake): readonly string[] {
  const call = terraceThatCounts(flake)?.call;
  return [
    ...(flake.notes ?? []).map(noteText),
    ...(flake.clearance?.gapUm === 0 ? ['it touches something else'] : []),
    ...(call?.thickness && call.thickness.alternatives.length > 0 ? ['its colour has other readings'] : []),
  ];
}

function noteText(note: FlakeNote): string {
  switch (note.kind) {
    case 'twoLayersOrFold':
      return `its strip of ${note.layers} layers may be a fold`;
    case 'confirmLarger':
      return `it is only ${figure(note.acrossUm)} µm across: confirm it at higher magnification`;
    case 'halo':
      return 'the oxide beside it is not as bright as elsewhere, which makes its contrast less sure';
    case 'smallerThanWanted':
      return `it is smaller than the ${figure(note.wantedUm)} µm wanted`;
  }
}

function figure(um: number): string {
  return um < 10 ? um.toFixed(1) : um.toFixed(0);
}
