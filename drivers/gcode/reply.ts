import { parseStatus, type StatusReport } from './statusReport.ts';

/** What one line from the controller means. */
export type Reply =
  | { readonly kind: 'ok' }
  | { readonly kind: 'error'; readonly code: number }
  | { readonly kind: 'alarm'; readonly code: number }
  /** The firmware has (re)started: whatever was on its way is forgotten. */
  | { readonly kind: 'banner'; readonly text: string }
  | { readonly kind: 'status'; readonly report: StatusReport }
  | { readonly kind: 'setting'; readonly number: number; readonly value: number }
  /** `[VER:...]`, `[MSG:...]` and the like. */
  | { readonly kind: 'message'; readonly text: string }
  | { readonly kind: 'unreadable'; readonly text: string };

/** A start banner, also one with a character changed in one half: taking a restart for noise would be worse than the reverse. */
const BANNER = /^Grbl\w* \d|\['\$'.*for help\]$/;

function settingOf(line: string): Reply | undefined {
  const [, number, value] = /^\$(\d{1,3})=(-?\d{1,9}(?:\.\d{1,4})?)$/.exec(line) ?? [];
  return number === undefined || value === undefined ? undefined : { kind: 'setting', number: Number(number), value: Number(value) };
}

/**
 * Reads one line of text as the documentation of the open-source firmware grbl 1.1 ("interface"; from memory) has it. Strict: what is not
 * exactly one of its forms is `unreadable`, and never an answer.
 */
export function parseReply(line: string): Reply {
  if (line === 'ok') return { kind: 'ok' };
  const [, word, code] = /^(error|ALARM):(\d{1,3})$/.exec(line) ?? [];
  if (code !== undefined) return { kind: word === 'error' ? 'error' : 'alarm', code: Number(code) };
  if (BANNER.test(line)) return { kind: 'banner', text: line };
  const report = parseStatus(line);
  if (report) return { kind: 'status', report };
  const setting = settingOf(line);
  if (setting) return setting;
  return /^\[[A-Z0-9]+:.*\]$/.test(line) ? { kind: 'message', text: line } : { kind: 'unreadable', text: line };
}
