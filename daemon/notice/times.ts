import { onDayOf } from '../timeOfDay.ts';

const days = ['Sun', 'Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat'] as const;
const months = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'] as const;

/** "Fri 27 Nov, 04:10": by this computer's own time zone, the month in letters, so that no one takes it for the day. */
export function dayAndTime(atMs: number): string {
  const at = new Date(atMs);
  const two = (value: number): string => String(value).padStart(2, '0');
  return `${days[at.getDay()] ?? ''} ${at.getDate()} ${months[at.getMonth()] ?? ''}, ${two(at.getHours())}:${two(at.getMinutes())}`;
}

/** The moment of "21:30" on the day of `nowMs`, or on the next where that is more than twelve hours past; undefined where it is no time of day. */
export function startFrom(text: string, nowMs: number): number | undefined {
  const todayMs = onDayOf(text, nowMs);
  if (todayMs === undefined) return undefined;
  const at = new Date(todayMs);
  if (nowMs - at.getTime() > 12 * 3_600_000) at.setDate(at.getDate() + 1);
  return at.getTime();
}
