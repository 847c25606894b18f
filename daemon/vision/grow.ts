import type { Window } from './window.ts';

const SLOTS = 64;

/** A first-in first-out queue per degree of unlikeness. */
class SlotQueue {
  private readonly slots: number[][] = Array.from({ length: SLOTS }, () => []);
  private readonly heads = new Int32Array(SLOTS);
  private lowest = 0;

  push(slot: number, value: number): void {
    (this.slots[slot] as number[]).push(value);
    if (slot < this.lowest) this.lowest = slot;
  }

  pop(): number | undefined {
    while (this.lowest < SLOTS) {
      const slot = this.slots[this.lowest] as number[];
      const head = this.heads[this.lowest] as number;
      if (head < slot.length) {
        this.heads[this.lowest] = head + 1;
        return slot[head];
      }
      this.lowest++;
    }
    return undefined;
  }
}

/**
 * Grows seeds over the samples that have none, likest first, so that a blurred edge is divided where its contrast is half way
 * between the two sides. Substrate (label 0) grows like any other.
 * Seeded region growing: Adams and Bischof, IEEE Trans. Pattern Anal. 16 (1994) 641 (from memory).
 * @param labels seeds: a label, 0 for substrate, -1 for a sample to be given away; filled in place
 * @param means mean contrast of every label
 */
export function growSeeds(window: Window, labels: Int32Array, means: readonly (readonly number[])[]): void {
  const { width } = window;
  const queue = new SlotQueue();
  const count = means.length;
  const last = labels.length - width;
  const offer = (at: number, label: number): void => {
    queue.push(slotOf(window, at, means[label] as readonly number[]), at * count + label);
  };
  const offerAround = (at: number, label: number): void => {
    const col = at % width;
    if (col > 0 && labels[at - 1] === -1) offer(at - 1, label);
    if (col < width - 1 && labels[at + 1] === -1) offer(at + 1, label);
    if (at >= width && labels[at - width] === -1) offer(at - width, label);
    if (at < last && labels[at + width] === -1) offer(at + width, label);
  };
  for (const at of window.inside) {
    if (labels[at] === -1) offerFromSubstrate(labels, at, width, offer);
    else offerAround(at, labels[at] as number);
  }
  for (let next = queue.pop(); next !== undefined; next = queue.pop()) {
    const label = next % count;
    const at = (next - label) / count;
    if (labels[at] !== -1) continue;
    labels[at] = label;
    offerAround(at, label);
  }
}

/** The substrate around the component is a seed as well. */
function offerFromSubstrate(labels: Int32Array, at: number, width: number, offer: (at: number, label: number) => void): void {
  const col = at % width;
  const touches =
    (col > 0 && labels[at - 1] === 0) || (col < width - 1 && labels[at + 1] === 0) || (at >= width && labels[at - width] === 0) || labels[at + width] === 0;
  if (touches) offer(at, 0);
}

/** Unlikeness of a sample to a mean, with the same measure on both sides of an edge: in half noise units of the 3x3 mean, squeezed into the slots. */
function slotOf(window: Window, at: number, mean: readonly number[]): number {
  let sum = 0;
  for (let c = 0; c < mean.length; c++) {
    const off = ((window.smooth[c] as Float32Array)[at] as number) - (mean[c] as number);
    const sigma = window.noise[c] as number;
    sum += (off * off) / (sigma * sigma);
  }
  const sigmas = 3 * Math.sqrt(sum);
  return Math.min(SLOTS - 1, Math.floor(sigmas < 16 ? 2 * sigmas : 32 + 4 * Math.log2(sigmas / 16)));
}
