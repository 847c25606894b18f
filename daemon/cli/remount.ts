import { resolve } from 'node:path';
import type { MarkPair } from '../../planner/frames/chipFrame.ts';
import { parseInstrument } from '../config/load.ts';
import { readSource } from '../config/readSource.ts';
import { NightjarError } from '../errors/index.ts';
import { lengthUm } from '../errors/words.ts';
import { openInstrument } from '../instrument/open.ts';
import { openRecords } from '../records/index.ts';
import { remount, type Remounted } from '../wayBack/session.ts';
import type { AddCommand, CommandContext } from './context.ts';
import { pointFrom } from './point.ts';
import { layersText } from './words.ts';

interface RemountOptions {
  readonly instrument: string;
  readonly data: string;
  readonly mark: readonly string[];
  readonly corner?: string;
  readonly flake?: string;
}

const explanation = `
With --corner the chip's two edges are read off the picture there, and its pictures tell which of its corners it is. Else give marks:
a mark is a place of the chip's own frame and where it was found on the stage, such as --mark 0,0=20312.5,19874. Two at least; corners of the
chip will do: its frame begins at the first corner, x along the first edge. The chip may lie turned, shifted and on another instrument.

Nothing is driven to before pictures of that night were recognised near the chip's corners. Afterwards the objective stands in focus and the
lamp is on. Keep hands and tweezers away while the stage moves; Ctrl-C asks the controllers to halt and is no safety device.`;

/** `nightjar remount CHIP`: back to a flake of a chip that has been off the stage. */
export const remountCommand: AddCommand = (program, context, done) => {
  program
    .command('remount')
    .description('find a chip again that was laid down anew, and bring one of its flakes into the middle of the view')
    .argument('<chip>', 'its name in the run sheet of that night')
    .option('-i, --instrument <file>', 'the instrument that it lies on now', 'instrument.yaml')
    .option('-d, --data <folder>', 'where the records of that night are', 'nightjar-data')
    .option('-m, --mark <chip=stage>', 'x,y of the chip\'s frame = x,y of the stage, um; two times or more', (text: string, all: readonly string[]) => [...all, text], [])
    .option('-c, --corner <x,y>', 'instead of marks: about where one corner of the chip lies on the stage, um; any corner will do')
    .option('-f, --flake <id>', 'the flake to go to; the best flagged one when left out')
    .addHelpText('after', explanation)
    .action(async (chip: string, options: RemountOptions) => {
      await run(context, chip, options);
      done(0);
    });
};

async function run(context: CommandContext, chip: string, options: RemountOptions): Promise<void> {
  const marks = options.mark.map(markFrom);
  const { text, file } = await readSource(options.instrument);
  const config = parseInstrument(text, file);
  const records = openRecords(resolve(options.data));
  try {
    const opened = await openInstrument(config, { realClock: context.clock });
    try {
      const wish = { chip, marks, ...(options.corner === undefined ? {} : { cornerUm: pointFrom('--corner', options.corner) }), ...(options.flake === undefined ? {} : { flakeId: options.flake }) };
      context.output.write(`${remountedText(await remount(records, config, opened.instrument, wish, context.interrupted))}\n`);
    } finally {
      await opened.close();
    }
  } finally {
    records.close();
  }
}

function remountedText({ found, flake, at }: Remounted): string {
  const turned = found.isTurned ? ' The marks were given the wrong way round: the chip lies half a turn from what they said.' : '';
  const call = flake.terraces.map((terrace) => terrace.call).find(({ layers }) => layers === flake.layers);
  return [
    `This is chip ${flake.chip}: its picture was recognised (likeness ${found.likeness.toFixed(2)}), ${lengthUm(found.marksOffUm)} from where the marks alone had it.${turned}`,
    `Flake ${flake.id}${call ? ` (${layersText(call)})` : ''} is in the middle of the view, within ${lengthUm(Math.max(1, at.leftUm))}: stage at ${lengthUm(at.atUm.xUm)}, ${lengthUm(at.atUm.yUm)}.`,
    'The lamp is on and the objective in focus.',
  ].join('\n');
}

function markFrom(text: string): MarkPair {
  const parts = text.split('=').map((side) => side.split(',').map((part) => (part.trim() === '' ? NaN : Number(part))));
  const [[chipX = NaN, chipY = NaN, ...a] = [], [stageX = NaN, stageY = NaN, ...b] = [], ...rest] = parts;
  if (rest.length + a.length + b.length > 0 || ![chipX, chipY, stageX, stageY].every(Number.isFinite)) {
    throw new NightjarError('badUsage', { reason: `--mark ${text}: x,y=x,y in um is wanted, such as 0,0=20312.5,19874` });
  }
  return { chipUm: { xUm: chipX, yUm: chipY }, stageUm: { xUm: stageX, yUm: stageY } };
}
