import { dirname, resolve } from 'node:path';
import { isScalar, LineCounter, parseDocument, visit } from 'yaml';
import { NightjarError } from '../errors/index.ts';
import type { ConfigProblem } from '../errors/index.ts';
import { parseMaterial } from '../materials/read.ts';
import { readTableText } from '../materials/tableText.ts';
import { isTableText, reasonOf } from './chipMaterial.ts';
import type { SourceText } from './sourceText.ts';
import { tooMuchYaml } from './yamlBounds.ts';
import { maxFileBytes } from './yamlSource.ts';

/** The settings that may name a file, and what its text must stand: a run sheet's tables, an instrument's descriptions of devices. */
const checks: Readonly<Record<string, (text: string, file: string) => void>> = {
  materialTable: parseMaterial,
  // What stands in it is checked with the instrument, where its lines can be named.
  deviceFile: () => undefined,
};

/** Where a configuration file names another one, as a stretch of its text. */
interface Place {
  readonly key: string;
  readonly name: string;
  readonly from: number;
  readonly to: number;
  readonly line: number;
}

/**
 * Puts the files that `materialTable` and `deviceFile` name into the text, as quoted texts of one line, so that no other line moves. A
 * night keeps the texts of its files: with the others in them, it can be resumed and looked at when those are gone. A text that is not in
 * order comes back as it is, for the reader to complain of.
 * @throws NightjarError `badConfig` with the line of a file that is missing or wrong
 */
export async function withFiles(source: SourceText): Promise<SourceText> {
  if (!Object.keys(checks).some((key) => source.text.includes(key))) return source;
  const problems: ConfigProblem[] = [];
  let { text } = source;
  for (const place of placesIn(source.text).reverse()) {
    const file = resolve(dirname(source.file), place.name);
    try {
      const content = await readTableText(file);
      checks[place.key]?.(content, file);
      // A file of one line would be taken for a name.
      text = `${text.slice(0, place.from)}${JSON.stringify(`${content.trimEnd()}\n`)}${text.slice(place.to)}`;
    } catch (error) {
      problems.unshift({ line: place.line, key: place.key, message: `${place.name}: ${reasonOf(error)}` });
    }
  }
  if (text.length > maxFileBytes) problems.push({ line: 1, key: '', message: `with the files that it names it is larger than ${maxFileBytes} bytes, which is the most; of a table one value every 5 nm is enough` });
  if (problems.length > 0) throw new NightjarError('badConfig', { file: source.file, problems });
  return { ...source, text };
}

function placesIn(text: string): Place[] {
  if (tooMuchYaml(text) !== undefined) return [];
  const lines = new LineCounter();
  const places: Place[] = [];
  const document = parseDocument(text, { lineCounter: lines, prettyErrors: false, uniqueKeys: false, version: '1.2', schema: 'core' });
  if (document.errors.length > 0) return [];
  visit(document, {
    Pair(_key, pair) {
      if (!isScalar(pair.key) || typeof pair.key.value !== 'string' || !Object.hasOwn(checks, pair.key.value) || !isScalar(pair.value)) return;
      const { value, range } = pair.value;
      if (typeof value !== 'string' || value === '' || isTableText(value) || !range) return;
      places.push({ key: pair.key.value, name: value, from: range[0], to: range[1], line: lines.linePos(range[0]).line });
    },
  });
  return places;
}
