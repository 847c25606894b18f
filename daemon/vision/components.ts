/** A connected part of a mask (corners touch), as a label and its box; `rowEnd` and `colEnd` are beyond the last. */
export interface Component {
  readonly label: number;
  readonly count: number;
  readonly rowFrom: number;
  readonly rowEnd: number;
  readonly colFrom: number;
  readonly colEnd: number;
}

export interface Labelled {
  readonly labels: Int32Array;
  readonly components: readonly Component[];
}

/** Labels the connected parts of a mask of 0 and 1, eight neighbours, in the order of their first pixel; 0 is background. */
export function labelComponents(mask: Uint8Array, width: number, height: number): Labelled {
  const labels = new Int32Array(mask.length);
  const components: Component[] = [];
  const stack: number[] = [];
  for (let start = 0; start < mask.length; start++) {
    if (mask[start] === 0 || labels[start] !== 0) continue;
    components.push(flood(mask, labels, width, height, start, components.length + 1, stack));
  }
  return { labels, components };
}

function flood(mask: Uint8Array, labels: Int32Array, width: number, height: number, start: number, label: number, stack: number[]): Component {
  let [rowFrom, rowEnd, colFrom, colEnd, count] = [height, 0, width, 0, 0];
  labels[start] = label;
  stack.push(start);
  for (let at = stack.pop(); at !== undefined; at = stack.pop()) {
    const col = at % width;
    const row = (at - col) / width;
    count++;
    if (row < rowFrom) rowFrom = row;
    if (row >= rowEnd) rowEnd = row + 1;
    if (col < colFrom) colFrom = col;
    if (col >= colEnd) colEnd = col + 1;
    const left = col > 0 ? -1 : 0;
    const right = col < width - 1 ? 1 : 0;
    for (let r = row > 0 ? -1 : 0; r <= (row < height - 1 ? 1 : 0); r++) {
      for (let c = left; c <= right; c++) {
        const next = at + r * width + c;
        if (mask[next] === 0 || labels[next] !== 0) continue;
        labels[next] = label;
        stack.push(next);
      }
    }
  }
  return { label, count, rowFrom, rowEnd, colFrom, colEnd };
}
