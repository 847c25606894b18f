import type { Clock } from '../../drivers/interfaces/index.ts';
import type { Attempt, Channel, Tidings } from './types.ts';

export interface TrialEnd {
  readonly channel: string;
  readonly attempt: Attempt;
}

/** Sends one test message on every channel, once, and tells what came back of each. */
export async function tryChannels(channels: readonly Channel[], page: string | undefined, clock: Clock, signal: AbortSignal): Promise<readonly TrialEnd[]> {
  const atMs = clock.now();
  const tidings: Tidings = {
    id: `test-${atMs}`,
    kind: 'test',
    atMs,
    sentence: 'This is a test: Nightjar can reach you here. Nothing runs because of it.',
    flakes: [],
    pictures: new Map(),
    troubles: [],
    ...(page === undefined ? {} : { page }),
  };
  return Promise.all(channels.map(async (channel) => ({ channel: channel.name, attempt: await channel.send(tidings, signal) })));
}
