/**
 * JSON that keeps every number: what JSON has no word for (not a number, the infinities) is written as a marked text. Measured
 * ratios can be infinite where there is nothing to divide by, and must come back as they were.
 */
const MARK = 'number:';

function mark(_key: string, value: unknown): unknown {
  return typeof value === 'number' && !Number.isFinite(value) ? MARK + String(value) : value;
}

function unmark(_key: string, value: unknown): unknown {
  return typeof value === 'string' && /^number:(NaN|-?Infinity)$/.test(value) ? Number(value.slice(MARK.length)) : value;
}

export function toJson(value: unknown): string {
  if (typeof value === 'number' && Number.isFinite(value)) return JSON.stringify(value);
  return JSON.stringify(value, mark);
}

/** Throws SyntaxError for what is not JSON. The slow way is only taken for texts that hold a marked number. */
export function fromJson(text: string): unknown {
  return text.includes(`"${MARK}`) ? JSON.parse(text, unmark) : JSON.parse(text);
}
