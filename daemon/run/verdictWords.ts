import type { LabelSource } from '../../planner/layers/types.ts';

const sources: Readonly<Record<LabelSource, string>> = { raman: 'Raman', afm: 'AFM', blindEye: 'by eye, prediction hidden', shownEye: 'by eye, prediction shown' };

/** What an event says of a verdict: "m.o. gave K-07-12 2 layers (Raman). 9 flakes are read otherwise." */
export function verdictSentence(on: { readonly flakeId: string; readonly terrace: number }, given: { readonly layers: number; readonly source: LabelSource; readonly initials: string } | undefined, changed: number, reread: boolean): string {
  const where = on.terrace === 0 ? on.flakeId : `${on.flakeId}, terrace ${on.terrace + 1},`;
  const said = given ? `${given.initials} gave ${where} ${given.layers} ${given.layers === 1 ? 'layer' : 'layers'} (${sources[given.source]}).` : `The number given to ${where.replace(/,$/, '')} was taken back.`;
  return reread ? `${said} ${changedWords(changed)}` : `${said} It counts when the chip is next read again.`;
}

/** What an event says when numbers given before are counted for chips that had not heard of them. */
export function caughtUpSentence(chips: readonly string[], changed: number): string {
  return `${chips.join(', ')}: read again with the layer numbers that people have given since. ${changedWords(changed)}`;
}

function changedWords(changed: number): string {
  return changed === 0 ? 'No flake is read otherwise.' : `${changed} ${changed === 1 ? 'flake is' : 'flakes are'} read otherwise.`;
}
