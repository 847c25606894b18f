import { bytes } from '../errors/index.ts';
import { advice, cannotBeTold, ok, toMend, type Finding } from './finding.ts';
import type { Examined } from './surroundings.ts';

const CHECK = 'memory';
/** Frames under way, classifier threads and the page together (common practice, no source). */
const LEAST_BYTES = 1e9;
const COMFORTABLE_BYTES = 2e9;
const MEND = 'end programs that are not needed at night (browsers above all), or take a computer with more memory';

/** Memory that programs could still have, as the kernel reckons it (proc(5), MemAvailable, in KiB). */
export async function checkMemory({ surroundings }: Examined): Promise<readonly Finding[]> {
  const kib = /^MemAvailable:\s*(\d+) kB$/m.exec((await surroundings.readText('/proc/meminfo')) ?? '')?.[1];
  if (kib === undefined) return [cannotBeTold(CHECK, 'the system does not say what is free', 'free -h')];
  const available = Number(kib) * 1024;
  const seen = `${bytes(available)} free`;
  if (available < LEAST_BYTES) return [toMend(CHECK, `${seen}, which is too little`, MEND)];
  return [available < COMFORTABLE_BYTES ? advice(CHECK, `${seen}, which is tight`, MEND) : ok(CHECK, seen)];
}
