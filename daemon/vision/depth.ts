/**
 * Depth of every sample inside its own region, in chessboard steps: 1 where a neighbour (corners count) belongs to another region, 0
 * where the label is 0. The window's edge is no border: there the frame ends, not the region.
 * @param inside the samples that may have a label, in reading order
 */
export function depthMap(labels: Int32Array, inside: Int32Array, width: number, height: number): Int32Array {
  const depth = new Int32Array(labels.length);
  for (let i = 0; i < inside.length; i++) {
    const at = inside[i] as number;
    if (labels[at] === 0) continue;
    const col = at % width;
    let least = width + height;
    if (col > 0) least = step(labels, depth, at, at - 1, least);
    if (at >= width) {
      least = step(labels, depth, at, at - width, least);
      if (col > 0) least = step(labels, depth, at, at - width - 1, least);
      if (col < width - 1) least = step(labels, depth, at, at - width + 1, least);
    }
    depth[at] = least;
  }
  for (let i = inside.length - 1; i >= 0; i--) {
    const at = inside[i] as number;
    if (labels[at] === 0) continue;
    const col = at % width;
    let least = depth[at] as number;
    if (col < width - 1) least = step(labels, depth, at, at + 1, least);
    if (at < labels.length - width) {
      least = step(labels, depth, at, at + width, least);
      if (col > 0) least = step(labels, depth, at, at + width - 1, least);
      if (col < width - 1) least = step(labels, depth, at, at + width + 1, least);
    }
    depth[at] = least;
  }
  return depth;
}

function step(labels: Int32Array, depth: Int32Array, at: number, next: number, least: number): number {
  const through = labels[next] === labels[at] ? (depth[next] as number) + 1 : 1;
  return through < least ? through : least;
}
