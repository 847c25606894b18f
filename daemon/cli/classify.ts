import { writeFile } from 'node:fs/promises';
import { flakesOf } from '../../planner/flakes/book.ts';
import { classifyFrameSet, type ClassifiedFrameSet, type Measure } from '../classify/frameSet.ts';
import { drawFrameSet } from '../classify/mapPicture.ts';
import { WorkerPool } from '../classify/pool.ts';
import { NightjarError } from '../errors/index.ts';
import { barFrom, barReport, barText } from './bar.ts';
import type { AddCommand, CommandContext } from './context.ts';
import { setTable } from './flakeTable.ts';
import { usualWorkers } from './nightWork.ts';
import { workersFrom } from './scan.ts';

interface ClassifyOptions {
  readonly out?: string;
  readonly picture?: string;
  readonly layers: string;
  readonly thickness?: string;
  readonly bar?: string;
  readonly workers?: string;
  readonly json?: boolean;
}

/** `nightjar classify FRAMESET_DIR`: the same classifier on stored frames. */
export const classifyCommand: AddCommand = (program, context, done) => {
  program
    .command('classify')
    .description('find and count the flakes of a stored frame set')
    .argument('<folder>', 'a folder with frame-set.json and its images')
    .option('-o, --out <file>', 'write the flakes as JSON')
    .option('-p, --picture <file>', 'draw a map with every outline (PNG)')
    .option('-l, --layers <from-to>', 'layer numbers that are looked for', '1-4')
    .option('-t, --thickness <from-to>', 'thickness in nm that is looked for in hBN and graphite, like 5-40')
    .option('-b, --bar <length x width>', 'say on which flakes a bar of this size in um fits, like 20x5')
    .option('--workers <n>', 'classifier threads')
    .option('--json', 'print the flakes as JSON')
    .action(async (folder: string, options: ClassifyOptions) => {
      done(await classify(context, folder, options));
    });
};

async function classify(context: CommandContext, folder: string, options: ClassifyOptions): Promise<number> {
  if (options.bar !== undefined) barFrom(options.bar);
  const thickness = options.thickness === undefined ? {} : { thicknessNm: thicknessFrom(options.thickness) };
  const workers = options.workers === undefined ? usualWorkers() + 1 : workersFrom(options.workers);
  const pool = new WorkerPool(workers, context.clock);
  let tile = 0;
  const measure: Measure = async (input) => (await pool.run({ tile: tile++, input })).measurement;
  try {
    const onProgress = (count: number, total: number): void => {
      if (context.errors.isTerminal) context.errors.write(`\r\u001b[2Kframe ${count} of ${total}${count === total ? '\n' : ''}`);
    };
    const classified = await classifyFrameSet(folder, { layers: layersFrom(options.layers), ...thickness, inFlight: workers + 1, onProgress }, measure);
    return await report(context, classified, options);
  } finally {
    await pool.close();
  }
}

async function report(context: CommandContext, classified: ClassifiedFrameSet, options: ClassifyOptions): Promise<number> {
  const { report: found } = classified;
  const bar = options.bar === undefined ? undefined : barReport(classified.book, barFrom(options.bar));
  const json = `${JSON.stringify({ ...found, ...bar })}\n`;
  if (options.out !== undefined) await writeFile(options.out, json);
  if (options.picture !== undefined) await writeFile(options.picture, await drawFrameSet(classified));
  if (options.json) context.output.write(json);
  for (const problem of found.problems) context.errors.write(`${problem.file}: ${problem.code}${problem.detail === undefined ? '' : `, ${problem.detail}`}. The other frames were classified.\n`);
  if (!options.json) context.output.write(`${wordsFor(classified)}\n${bar ? `\n${barText(bar)}\n` : ''}`);
  return found.problems.length > 0 ? 1 : 0;
}

/** What was found, and the best of it. */
function wordsFor({ book, report: { flakes, rejected } }: ClassifiedFrameSet): string {
  const flagged = flakesOf(book).filter((flake) => flake.verdict === 'flagged');
  return `${flakes.length} flakes, ${flagged.length} of them flagged; ${rejected.length} things were no flakes.\n\n${setTable(flagged)}`;
}

/** "1-4" or "2". Throws `badUsage`. */
function layersFrom(text: string): readonly [number, number] {
  const match = /^(\d+)(?:-(\d+))?$/.exec(text);
  const from = Number(match?.[1]);
  const to = Number(match?.[2] ?? match?.[1]);
  if (!match || from < 1 || to > 10 || from > to) throw new NightjarError('badUsage', { reason: `--layers ${text}: a number or a range within 1 to 10 is wanted, like 1-4` });
  return [from, to];
}

/** "5-40", nm. Throws `badUsage`. */
function thicknessFrom(text: string): readonly [number, number] {
  const match = /^(\d+(?:\.\d+)?)-(\d+(?:\.\d+)?)$/.exec(text);
  const [from, to] = [Number(match?.[1]), Number(match?.[2])];
  if (!match || !(from < to)) throw new NightjarError('badUsage', { reason: `--thickness ${text}: a range in nm is wanted, like 5-40` });
  return [from, to];
}
