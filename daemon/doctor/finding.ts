/** What a check came to. Only `toMend` stands in the way of a night; `advice` makes one safer. */
export type Verdict = 'ok' | 'toMend' | 'advice' | 'cannotBeTold';

/** One thing that was looked at: what was seen, and how to mend it, each in one line. */
export interface Finding {
  readonly check: string;
  readonly verdict: Verdict;
  readonly seen: string;
  readonly mend?: string;
}

export function ok(check: string, seen: string): Finding {
  return { check, verdict: 'ok', seen };
}

export function toMend(check: string, seen: string, mend: string): Finding {
  return { check, verdict: 'toMend', seen, mend };
}

export function advice(check: string, seen: string, mend: string): Finding {
  return { check, verdict: 'advice', seen, mend };
}

/** `mend` is how a person finds out. */
export function cannotBeTold(check: string, seen: string, mend?: string): Finding {
  return { check, verdict: 'cannotBeTold', seen, ...(mend === undefined ? {} : { mend }) };
}
