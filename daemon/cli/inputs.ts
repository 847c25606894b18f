import { readSource } from '../config/readSource.ts';
import { understand, type NightFiles } from '../run/openNight.ts';

/** Reads both files of a night and checks them against each other. Throws `noSuchFile`, `unreadableFile` or `badConfig`. */
export async function readNightFiles(runSheetFile: string, instrumentFile: string): Promise<NightFiles> {
  const instrument = await readSource(instrumentFile);
  const runSheet = await readSource(runSheetFile);
  return understand(runSheet.text, runSheetFile, instrument.text, instrumentFile);
}
