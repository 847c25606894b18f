import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { runProgram } from '../../../daemon/cli/program.ts';
import { systemSecrets } from '../../../daemon/server/systemSecrets.ts';
import { createSystemClock } from '../../../drivers/clock/systemClock.ts';
import { fewTiles, tinyTexts, type TinyChange } from '../../support/tinyFiles.ts';

export interface CliEnd {
  readonly code: number;
  /** What went to standard output, and to standard error. */
  readonly output: string;
  readonly errors: string;
}

export interface CliOptions {
  /** Told everything that is written so far, at each write; may call `interrupt` as Ctrl-C would. */
  readonly watch?: (output: string, interrupt: () => void) => void;
  readonly isTerminal?: boolean;
}

/** Runs `nightjar WORDS` in this process. */
export async function runCli(words: readonly string[], { watch, isTerminal = false }: CliOptions = {}): Promise<CliEnd> {
  const said = { output: '', errors: '' };
  const interruption = new AbortController();
  const writer = (to: keyof typeof said) => ({
    isTerminal,
    columns: 100,
    write(text: string) {
      said[to] += text;
      watch?.(said.output, () => interruption.abort());
    },
  });
  const code = await runProgram(words, { clock: createSystemClock(), secrets: systemSecrets, output: writer('output'), errors: writer('errors'), interrupted: interruption.signal });
  return { code, ...said };
}

/** A temporary folder with an instrument file and a run sheet, for a night of about a dozen tiles. */
export class CliFolders {
  private readonly made: string[] = [];

  make(change: TinyChange = () => undefined): { readonly folder: string; readonly instrument: string; readonly sheet: string; readonly data: string } {
    const folder = mkdtempSync(join(tmpdir(), 'nightjar-cli-'));
    this.made.push(folder);
    const { instrumentText, runSheetText } = tinyTexts((instrument, sheet) => {
      fewTiles(instrument, sheet);
      change(instrument, sheet);
    });
    const files = { folder, instrument: join(folder, 'instrument.yaml'), sheet: join(folder, 'tonight.yaml'), data: join(folder, 'data') };
    writeFileSync(files.instrument, instrumentText);
    writeFileSync(files.sheet, runSheetText);
    return files;
  }

  clear(): void {
    for (const folder of this.made.splice(0)) rmSync(folder, { recursive: true, force: true });
  }
}
