/** A wished time of day that is further off than this is over for this night: then the summary comes at once. */
const longestWaitMs = 12 * 3_600_000;

/**
 * How long the morning summary waits, ms, from the end of the night to the time of day that is wished ("06:30", by this computer's own
 * time zone, daylight saving included); 0 where none is wished or that time is more than twelve hours off.
 */
export function waitUntilMorningMs(morningAt: string | undefined, nowMs: number): number {
  if (morningAt === undefined) return 0;
  const [hours = 0, minutes = 0] = morningAt.split(':').map(Number);
  const next = new Date(nowMs);
  next.setHours(hours, minutes, 0, 0);
  if (next.getTime() < nowMs) next.setDate(next.getDate() + 1);
  const waitMs = next.getTime() - nowMs;
  return waitMs <= longestWaitMs ? waitMs : 0;
}
