import { mkdtempSync, rmSync, writeFileSync, readFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import fc from 'fast-check';
import { parse } from 'yaml';
import { checkFile, parseInstrument, parseRunSheet, readSource, type CheckedFile } from '../../../daemon/config/index.ts';
import { instrumentSchema } from '../../../daemon/config/instrument.ts';
import { runSheetSchema } from '../../../daemon/config/runSheet.ts';
import { understand } from '../../../daemon/run/openNight.ts';
import { planNight } from '../../../daemon/run/planNight.ts';
import { instrumentText, runSheetText } from '../../daemon/config/samples.ts';
import { anyText, oddNumber, oddText } from '../hostile.ts';
import { answerOf, each, hold, trial, type Door } from '../law.ts';
import { beginningsOf, mutatedText, mutatedTree } from '../mutate.ts';
import { yamlPiece, yamlText } from '../yaml.ts';
import { peopleSchema } from '../../../daemon/config/people.ts';

const demo = (name: string): string => readFileSync(fileURLToPath(new URL(`../../../daemon/demo/${name}`, import.meta.url)), 'utf8');
const texts = [instrumentText, runSheetText, demo('instrument.yaml'), demo('tonight.yaml')];
const whole = fc.constantFrom(...texts);

function passesAgain(checked: CheckedFile): boolean {
  switch (checked.kind) {
    case 'instrument':
      return instrumentSchema.safeParse(checked.instrument).success;
    case 'runSheet':
      return runSheetSchema.safeParse(checked.runSheet).success;
    case 'people':
      return peopleSchema.safeParse(checked.people).success;
  }
}

async function read(text: string): Promise<void> {
  const checked = await answerOf(() => checkFile(text, 'bench.yaml'), ['bench.yaml', 'line ']);
  if (checked) hold(passesAgain(checked), 'what is read passes its own schema');
}

/** Numbers of both files replaced by others: what passes the schema must be planned or refused. */
function withNumbers(tree: unknown): fc.Arbitrary<unknown> {
  const text = JSON.stringify(tree);
  const places = [...text.matchAll(/(?<=[:[,])-?\d+(\.\d+)?(?=[,\]}])/g)];
  const size = fc.oneof(oddNumber.filter(Number.isFinite), fc.double({ min: -1e7, max: 1e7, noNaN: true }), fc.constantFrom(1e-3, 1, 30, 1e4, 1e6));
  const edits = fc.array(fc.tuple(fc.nat(places.length - 1), size), { minLength: 1, maxLength: 3 });
  return edits.map((all) => {
    const changes = new Map(all);
    let n = 0;
    return JSON.parse(text.replace(/(?<=[:[,])-?\d+(\.\d+)?(?=[,\]}])/g, (old) => String(changes.get(n++) ?? old))) as unknown;
  });
}

async function plan([instrument, runSheet]: readonly [unknown, unknown]): Promise<void> {
  const files = await answerOf(() => understand(yamlText(runSheet), 'tonight.yaml', yamlText(instrument), 'bench.yaml'));
  if (!files) return;
  const found = await answerOf(() => planNight(files.sheet, files.config));
  if (found) hold(Number.isFinite(found.forecastS) && Number.isFinite(found.diskBytes), 'a plan has a time and a size');
}

const own = '# layer_thickness_nm: 0.65\nwavelength_nm,n,k\n380,5,1\n780,4,0.1\n';
const tableName = fc.oneof(oddText, fc.constantFrom('own.csv', './own.csv', '..', '.', '/', '/dev/zero', '/dev/full', '/dev/null', 'own.csv/x', 'nothing.csv', 'folder', 'loop', 'own.csv\u0000'));

/** A run sheet on disk that names a table which may be anything. */
async function readFiles(name: string): Promise<void> {
  const folder = mkdtempSync(join(tmpdir(), 'nightjar-fuzz-'));
  try {
    writeFileSync(join(folder, 'own.csv'), own);
    const file = join(folder, 'tonight.yaml');
    writeFileSync(file, runSheetText.replace('material: graphene', `material: own\n    materialTable: ${JSON.stringify(name)}`));
    const source = await answerOf(() => readSource(file), ['tonight.yaml', 'line ']);
    if (source) await read(source.text);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

export const configuration: Door = {
  name: 'configuration',
  trials: [
    trial('any text', anyText, read, 2),
    trial('a document with something wrong in it', fc.constantFrom(...texts.map((text): unknown => parse(text))).chain(mutatedTree).map(yamlText), read, 2),
    trial('a text with something wrong in it', whole.chain((text) => mutatedText(text, yamlPiece)), read, 2),
    each('a run sheet cut off anywhere', beginningsOf(runSheetText), read),
    trial('either file taken for the other', fc.tuple(whole, fc.boolean()), async ([text, asInstrument]) => {
      await answerOf(() => (asInstrument ? parseInstrument(text, 'bench.yaml') : parseRunSheet(text, 'bench.yaml')), ['bench.yaml', 'line ']);
    }, 0.1),
    trial('files that it names', tableName, readFiles, 0.3),
    each('special files', ['/dev/zero', '/dev/full', '/proc/self/mem', '/', '/nowhere', 'a\u0000b'], async (file) => void (await answerOf(() => readSource(file)))),
    trial('a night of odd numbers', fc.tuple(withNumbers(parse(instrumentText)), withNumbers(parse(runSheetText))), plan, 0.5),
    trial('a demo night of odd numbers', fc.tuple(withNumbers(parse(demo('instrument.yaml'))), withNumbers(parse(demo('tonight.yaml')))), plan, 0.5),
  ],
};
