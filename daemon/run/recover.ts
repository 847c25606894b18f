import { raise } from './approach.ts';
import type { NightContext } from './context.ts';
import { configureCamera } from './prepare.ts';

/** First wait before a tile is tried again; doubled for each further try. */
const firstBackoffMs = 500;

/** What is done before a tile is tried again: wait, lift the objective, then whatever the trouble asks for. */
export async function recover(context: NightContext, code: string, attempt: number, signal: AbortSignal): Promise<void> {
  const { instrument, path } = context;
  await instrument.clock.sleep(firstBackoffMs * 2 ** (attempt - 1), signal);
  switch (code) {
    case 'stalled':
    case 'timeout':
      await raise(instrument, context.travel.safeHeightUm, signal);
      if ((await instrument.stage.state()) === 'alarm') await instrument.stage.home(signal);
      return;
    case 'noFrame':
    case 'badFrame':
      return configureCamera(instrument.camera, { exposureMs: path.exposureMs, gainDb: path.gainDb });
    default:
      return;
  }
}
