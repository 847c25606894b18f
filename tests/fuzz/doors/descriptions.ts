import { readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import fc from 'fast-check';
import { parse } from 'yaml';
import { summaryText } from '../../../daemon/describe/summary.ts';
import { parseDescription } from '../../../daemon/describe/readDescription.ts';
import { descriptionSchema } from '../../../drivers/described/schema.ts';
import { match } from '../../../drivers/described/pattern.ts';
import { anyText, oddText } from '../hostile.ts';
import { answerOf, each, hold, isFit, trial, type Door } from '../law.ts';
import { beginningsOf, mutatedText, mutatedTree } from '../mutate.ts';
import { yamlPiece, yamlText } from '../yaml.ts';

const folder = fileURLToPath(new URL('../../../daemon/demo/devices', import.meta.url));
const texts = readdirSync(folder).map((name) => readFileSync(`${folder}/${name}`, 'utf8'));
const device = fc.constantFrom(...texts);

/** Braces and control characters are a language of their own. */
const patternPiece = fc.oneof(
  fc.constantFrom('{', '}', '{{', '}}', '{x}', '{x:number}', '{_:text}', '{x:text}{y:text}', '{:}', '<CR>', '<', '<<CR>', '<00>', '(', '[', '\\', '.*', '^$', '{x:number} '.repeat(40)),
  yamlPiece,
);

/** A description that is in order can be told, and asked with any line. */
async function read(text: string): Promise<void> {
  const checked = await answerOf(() => parseDescription({ text, file: 'box.yaml' }), ['box.yaml', 'line ']);
  if (!checked) return;
  hold(descriptionSchema.safeParse(checked.description).success, 'what is read passes its own schema');
  hold(isFit(summaryText(checked.description)), 'what is told of a device is fit to be shown');
  const { expect } = checked.plan.identify;
  for (const line of ['', 'OK', '1 2 3', ' '.repeat(4096), 'a '.repeat(2000), '1,'.repeat(2000)]) if (expect) match(expect, line);
}

export const descriptions: Door = {
  name: 'descriptions',
  trials: [
    trial('any text', anyText, read),
    trial('a description with something wrong in it', fc.constantFrom(...texts.map((text): unknown => parse(text))).chain(mutatedTree).map(yamlText), read, 2),
    trial('a text with something wrong in it', device.chain((text) => mutatedText(text, patternPiece)), read, 2),
    each('a description cut off anywhere', texts.slice(0, 1).flatMap(beginningsOf).filter((_, n) => n % 7 === 0), read),
    trial('other words in its commands', fc.tuple(device, fc.nat(200), fc.oneof(patternPiece, oddText)).map(([text, n, piece]) => {
      const places = [...text.matchAll(/"([^"\n]*)"/g)];
      const place = places[n % Math.max(1, places.length)];
      return place ? text.slice(0, place.index) + JSON.stringify(piece) + text.slice(place.index + place[0].length) : text;
    }), read),
  ],
};
