import { benchFor } from '../preflight/bench.ts';
import type { Told } from '../preflight/check.ts';
import { systemGround } from '../preflight/ground.ts';
import { PreflightDesk } from '../preflight/preflightDesk.ts';
import { beginNight, type NightFiles, type OpenedNight } from '../run/openNight.ts';
import type { CommandContext } from './context.ts';
import type { NightWork } from './nightWork.ts';

/**
 * Checks until a page starts the night, which is written only then. Resolves with the night, or with nothing after Ctrl-C: whatever moved has then
 * been halted and the objective is up. Throws `planRefused` before anything moves.
 */
export async function checkedNight(context: CommandContext, work: NightWork, files: NightFiles, { directory, told }: { readonly directory: string; readonly told: Told }): Promise<OpenedNight | undefined> {
  const { clock, interrupted, output } = context;
  const { observatory, instrument } = work;
  const ground = systemGround(directory, clock, work.records);
  output.write('Stage and objective move now. Stop from here (Ctrl-C) is not a safety device. The night begins when the page starts it.\n');
  return new Promise((resolve, reject) => {
    const desk = new PreflightDesk({
      title: files.sheet.title,
      clock,
      bench: (signal) => benchFor(files, instrument.instrument, ground, told, signal),
      show: (view) => observatory.board.setPreflight(view),
      begin: () => resolve(beginNight(work.records, files, clock.now())),
    });
    const end = (): void => void desk.stop().then(() => resolve(undefined), reject);
    observatory.preflight = desk;
    if (interrupted.aborted) return resolve(undefined);
    interrupted.addEventListener('abort', end, { once: true });
    desk.begin();
  });
}
