import { checkTogether, parseInstrument, parseRunSheet } from '../config/load.ts';
import { readSource } from '../config/readSource.ts';
import type { InstrumentConfig } from '../config/instrument.ts';
import type { RunSheet } from '../config/runSheet.ts';

/** Both files of a night, read and checked against each other; the texts are kept for the records. */
export interface NightFiles {
  readonly sheet: RunSheet;
  readonly config: InstrumentConfig;
  readonly runSheetText: string;
  readonly instrumentText: string;
}

/** Throws `noSuchFile`, `unreadableFile` or `badConfig` with every problem found. */
export async function readNightFiles(runSheetFile: string, instrumentFile: string): Promise<NightFiles> {
  const instrument = await readSource(instrumentFile);
  const runSheet = await readSource(runSheetFile);
  return understand(runSheet.text, runSheetFile, instrument.text, instrumentFile);
}

/** The same from texts, e.g. those that the records kept of a night that is to go on. */
export function understand(runSheetText: string, runSheetFile: string, instrumentText: string, instrumentFile: string): NightFiles {
  const config = parseInstrument(instrumentText, instrumentFile);
  const sheet = parseRunSheet(runSheetText, runSheetFile);
  checkTogether(sheet, config, { text: runSheetText, file: runSheetFile });
  return { sheet, config, runSheetText, instrumentText };
}
