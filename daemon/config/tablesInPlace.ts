import { dirname, resolve } from 'node:path';
import { isScalar, LineCounter, parseDocument, visit } from 'yaml';
import { NightjarError } from '../errors/index.ts';
import type { ConfigProblem } from '../errors/index.ts';
import { parseMaterial } from '../materials/read.ts';
import { readTableText } from '../materials/tableText.ts';
import { isTableText, reasonOf } from './chipMaterial.ts';
import type { SourceText } from './load.ts';
import { maxFileBytes } from './yamlSource.ts';

const key = 'materialTable';

/** Where a run sheet names a file, as a stretch of its text. */
interface Place {
  readonly name: string;
  readonly from: number;
  readonly to: number;
  readonly line: number;
}

/**
 * Puts the tables that `materialTable` names into the run sheet's text, as quoted texts of one line, so that no other line moves. A night
 * keeps its run sheet's text: with the tables in it, it can be resumed and looked at when the files are gone. A text that is not in order
 * comes back as it is, for the reader to complain of.
 * @throws NightjarError `badConfig` with the run sheet's line for a table that is missing or wrong
 */
export async function withTables(source: SourceText): Promise<SourceText> {
  if (!source.text.includes(key)) return source;
  const problems: ConfigProblem[] = [];
  let { text } = source;
  for (const place of placesIn(source.text).reverse()) {
    const file = resolve(dirname(source.file), place.name);
    try {
      const table = await readTableText(file);
      parseMaterial(table, file);
      text = `${text.slice(0, place.from)}${JSON.stringify(table)}${text.slice(place.to)}`;
    } catch (error) {
      problems.unshift({ line: place.line, key, message: `${place.name}: ${reasonOf(error)}` });
    }
  }
  if (text.length > maxFileBytes) problems.push({ line: 1, key, message: `with its tables the run sheet is larger than ${maxFileBytes} bytes, which is the most; one value every 5 nm is enough` });
  if (problems.length > 0) throw new NightjarError('badConfig', { file: source.file, problems });
  return { ...source, text };
}

function placesIn(text: string): Place[] {
  const lines = new LineCounter();
  const places: Place[] = [];
  const document = parseDocument(text, { lineCounter: lines, prettyErrors: false, version: '1.2', schema: 'core' });
  if (document.errors.length > 0) return [];
  visit(document, {
    Pair(_key, pair) {
      if (!isScalar(pair.key) || pair.key.value !== key || !isScalar(pair.value)) return;
      const { value, range } = pair.value;
      if (typeof value !== 'string' || value === '' || isTableText(value) || !range) return;
      places.push({ name: value, from: range[0], to: range[1], line: lines.linePos(range[0]).line });
    },
  });
  return places;
}
