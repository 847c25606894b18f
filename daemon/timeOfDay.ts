/** The moment of "19:40", by this computer's own time zone, on the day of a moment; undefined where it is no time of day. */
export function onDayOf(text: string, dayMs: number): number | undefined {
  const [, hours, minutes] = /^([01]?\d|2[0-3]):([0-5]\d)$/.exec(text) ?? [];
  return hours === undefined || minutes === undefined ? undefined : new Date(dayMs).setHours(Number(hours), Number(minutes), 0, 0);
}
