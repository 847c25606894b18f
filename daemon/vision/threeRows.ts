/**
 * Sums of a row with the one above and the one below it, with the outermost sums repeated on either side; rows beyond the edge repeat the
 * outermost. The first half of every 3x3 sum.
 * @param line room for `width` sums and one more at each end
 */
export function sumThreeRows(plane: Float32Array, row: number, width: number, height: number, line: Float32Array): void {
  const above = Math.max(0, row - 1) * width;
  const here = row * width;
  const below = Math.min(height - 1, row + 1) * width;
  for (let c = 0; c < width; c++) line[c + 1] = (plane[above + c] as number) + (plane[here + c] as number) + (plane[below + c] as number);
  line[0] = line[1] as number;
  line[width + 1] = line[width] as number;
}
