import { mkdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { z } from 'zod';
import type { Remembered, RestMemory } from '../../drivers/gcode/options.ts';

const rememberedSchema = z.strictObject({ restMm: z.array(z.number()).length(3), referenceMm: z.array(z.number()).length(3) });

function fileName(controller: string): string {
  return `at-rest-${controller.replace(/[^A-Za-z0-9.-]+/g, '_').slice(0, 120)}.json`;
}

/**
 * Remembers where a controller was left, from one program to the next, in a file of its own. What cannot be read counts as nothing
 * remembered: the stage is then homed once more, which is never wrong.
 * @param controller what the controller is known by: its line
 */
export function restMemory(folder: string, controller: string): RestMemory {
  const file = join(folder, fileName(controller));
  return {
    recall() {
      try {
        const read = rememberedSchema.safeParse(JSON.parse(readFileSync(file, 'utf8')));
        return read.success ? read.data : undefined;
      } catch {
        return undefined;
      }
    },
    keep(remembered: Remembered | undefined) {
      if (remembered) replaceFile(folder, file, JSON.stringify(remembered));
      else rmSync(file, { force: true });
    },
  };
}

function replaceFile(folder: string, file: string, text: string): void {
  mkdirSync(folder, { recursive: true });
  writeFileSync(`${file}.new`, text);
  renameSync(`${file}.new`, file);
}
