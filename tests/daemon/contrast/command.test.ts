import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Command } from 'commander';
import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { contrastCommand } from '../../../daemon/cli/contrast.ts';
import type { CommandContext } from '../../../daemon/cli/context.ts';
import { systemSecrets } from '../../../daemon/server/systemSecrets.ts';
import { createSystemClock } from '../../../drivers/clock/systemClock.ts';
import { examples } from '../../planner/optics/reference.ts';

let folder = '';
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'nightjar-contrast-'));
});
afterAll(() => rm(folder, { recursive: true, force: true }));

/** Runs `nightjar contrast ...` in this process: what it writes, and its exit code. */
async function run(...words: readonly string[]): Promise<{ text: string; exitCode: number | undefined }> {
  let text = '';
  let exitCode: number | undefined;
  const output = { isTerminal: false, columns: 100, write: (more: string) => void (text += more) };
  const context: CommandContext = { clock: createSystemClock(), secrets: systemSecrets, output, errors: output, interrupted: new AbortController().signal };
  const program = new Command('nightjar').exitOverride().configureOutput({ writeOut: output.write, writeErr: output.write });
  contrastCommand(program, context, (code) => void (exitCode = code));
  await program.parseAsync(['contrast', ...words], { from: 'user' });
  return { text, exitCode };
}

interface Figures {
  readonly channels: readonly { readonly name: string; readonly meanNm: number }[];
  readonly ladder: readonly { readonly layers: number; readonly contrast: readonly number[]; readonly srgb: string }[];
  readonly bestFilter: { readonly filter: { readonly centreNm: number } };
  readonly warnings: readonly { readonly kind: string; readonly channel?: number; readonly layers?: readonly number[] }[];
}
const figures = async (...words: readonly string[]): Promise<Figures> => JSON.parse((await run(...words, '--json')).text) as Figures;

// tests/reference/optics-examples.json: the independent calculation, halogen as the Planckian lamp of 3200 K, printed to six decimals.
const planckian = examples.broadband.filter(({ illuminant }) => illuminant === 'planck-3200k');

describe('the ladder', () => {
  test.each(planckian)('$oxide_nm nm oxide, halogen, NA $NA: contrasts and colours of the independent calculation', async (block) => {
    const { ladder } = await figures('graphene', '--oxide', String(block.oxide_nm), '--na', String(block.NA));
    expect(ladder.map(({ layers }) => layers)).toEqual([0, 1, 2, 3, 4, 5, 6]);
    expect(ladder[0]?.srgb).toBe(`#${block.srgb8_white_balanced.map((value) => value.toString(16).padStart(2, '0')).join('')}`);
    for (const { layers, contrast_bands: expected } of block.graphene.filter((one) => one.layers <= 6)) {
      expected.forEach((value, channel) => expect(Math.abs((ladder[layers]?.contrast[channel] as number) - value)).toBeLessThan(1e-6 + 1e-4 * Math.abs(value)));
    }
  });
  test('the examples hold such blocks', () => {
    expect(planckian.length).toBeGreaterThan(1);
  });
  test('in words: a line for each layer with a colour, per cent with a true minus', async () => {
    const { text, exitCode } = await run('hBN', '--oxide', '290');
    expect(exitCode).toBe(0);
    expect(text).toContain('hBN on 290 nm oxide on silicon: halogen, NA 0.3, no filter, camera ideal-rgb.');
    expect(text).toMatch(/\n1 +2\.1 % +−1\.1 % +−1\.3 % +#[0-9a-f]{6}\n/);
  });
  test('above six layers ranges', async () => {
    const { text } = await run('graphene', '--oxide', '290', '--layers', '5-8');
    expect(text).toMatch(/\n5 +39\.3 % /);
    expect(text).toMatch(/\n7 \(\d+ to \d+\) +\d+\.\d to \d+\.\d % /);
    expect(text).not.toMatch(/\n4 /);
  });
});

describe('warnings', () => {
  test('graphene on 315 nm: green does not tell the first layer from the bare surface', async () => {
    const { text } = await run('graphene', '--oxide', '315', '--noise', '0.01', '--area-um2', '50', '--pixel-um', '0.69');
    expect(text).toContain('In green, neighbours from the bare surface to 6 layers cannot be told apart');
    expect(text).not.toContain('In red');
  });
  test('one layer of hBN wants a filter; with it there is no such warning', async () => {
    const bare = await figures('hbn', '--oxide', '290', '--camera', 'mono');
    expect(bare.warnings.map(({ kind }) => kind)).toContain('filterHelps');
    expect(bare.warnings).toContainEqual(expect.objectContaining({ kind: 'alikeInAll', layers: [0, 1] }));
    const filtered = await figures('hbn', '--oxide', '290', '--camera', 'mono', '--filter', `${bare.bestFilter.filter.centreNm}/50`);
    expect(filtered.warnings.filter(({ layers }) => layers?.[0] === 0)).toEqual([]);
    expect(filtered.warnings.map(({ kind }) => kind)).not.toContain('filterHelps');
  });
  test('a smaller terrace is told apart less well', async () => {
    const alike = async (area: string): Promise<number> => (await figures('graphene', '--oxide', '290', '--noise', '0.05', '--area-um2', area)).warnings.length;
    expect(await alike('2')).toBeGreaterThan(await alike('200'));
  });
  test('a channel behind a filter that shuts it out is left out and named', async () => {
    const { text } = await run('graphene', '--oxide', '290', '--filter', '620/20');
    expect(text).toContain('The blue channel gets next to no light and is left out.');
    expect(text).not.toMatch(/layers .*blue/);
  });
  test('bare silicon is a surface like another', async () => {
    expect((await run('graphene', '--oxide', '0')).text).toContain('graphene on bare silicon: halogen');
  });
});

describe('the chart', () => {
  test('as SVG and as PNG of twice its size', async () => {
    const [svg, png] = [join(folder, 'c.svg'), join(folder, 'c.png')];
    await run('mos2', '--oxide', '90', '--chart', svg);
    await run('mos2', '--oxide', '90', '--chart', png);
    const text = await readFile(svg, 'utf8');
    for (const words of ['One layer of MoS2', 'oxide thickness, nm', 'wavelength, nm', '>90 nm<', 'red 605 nm', 'hatched: the']) expect(text).toContain(words);
    const drawn = await sharp(Buffer.from(text)).metadata();
    const picture = await sharp(png).metadata();
    expect([picture.format, picture.width, picture.height]).toEqual(['png', 2 * drawn.width, 2 * drawn.height]);
  });

  // Graphene, independent calculation: brightest contrast near 87 nm at 550 nm, none near 200 nm. In ink: light there, ground here.
  test('is light where contrast is and dark where none is', async () => {
    const png = join(folder, 'g.png');
    await run('graphene', '--oxide', '400', '--na', '0', '--chart', png);
    const inkAt = async (oxideNm: number, wavelengthNm: number): Promise<number> => {
      const left = Math.round(2 * (84 + (700 * oxideNm) / 400));
      const top = Math.round(2 * (92 + 560 * (1 - (wavelengthNm - 400) / 350)));
      const { data } = await sharp(png).extract({ left, top, width: 1, height: 1 }).raw().toBuffer({ resolveWithObject: true });
      return data[0] as number;
    };
    expect(await inkAt(70, 550)).toBeGreaterThan(await inkAt(40, 550));
    // The oxide axis ends 100 nm beyond the line: 500 nm.
    expect(await inkAt(87 * 0.8, 550)).toBeGreaterThan(200);
    expect(await inkAt(206 * 0.8, 550)).toBeLessThan(60);
  });

  // Places from the picture's own frame: 700 x 560 from (84, 92), 0 to 400 nm across, 400 to 750 nm upwards.
  test('has the line at its oxide, each channel at its mean wavelength, and ticks that rise with the wavelength', async () => {
    const svg = join(folder, 'p.svg');
    await run('graphene', '--oxide', '290', '--chart', svg);
    const { channels } = await figures('graphene', '--oxide', '290');
    const text = await readFile(svg, 'utf8');
    const dots = [...text.matchAll(/<circle cx="([\d.]+)" cy="([\d.]+)"/g)].map(([, x, y]) => [Number(x), Number(y)]);
    expect(dots).toHaveLength(3);
    channels.forEach(({ meanNm }, i) => {
      expect(Math.abs((dots[i]?.[0] as number) - (84 + (700 * 290) / 400))).toBeLessThan(0.1);
      expect(Math.abs((dots[i]?.[1] as number) - (652 - (560 * (meanNm - 400)) / 350))).toBeLessThan(0.1);
    });
    const tickY = (nm: number): number => Number(new RegExp(`y="([\\d.]+)" text-anchor="end">${nm}<`).exec(text)?.[1]);
    expect([tickY(400), tickY(750)]).toEqual([657, 97]);
  });

  test('under another ending is refused before anything is computed', async () => {
    await expect(run('mos2', '--oxide', '90', '--chart', 'c.jpg')).rejects.toMatchObject({ code: 'badUsage' });
  });
});

describe('what is asked', () => {
  test.each([
    ['a material there is no data for', ['unobtainium', '--oxide', '90'], 'unknownMaterial'],
    ['no material', ['--oxide', '90'], 'badUsage'],
    ['an oxide below nothing', ['graphene', '--oxide=-1'], 'badUsage'],
    ['an oxide in words', ['graphene', '--oxide', 'thin'], 'badUsage'],
    ['an aperture of 1', ['graphene', '--oxide', '90', '--na', '1'], 'badUsage'],
    ['a filter without width', ['graphene', '--oxide', '90', '--filter', '590'], 'badUsage'],
    ['a filter in the infrared', ['graphene', '--oxide', '90', '--filter', '900/40'], 'badUsage'],
    ['a lamp that is unknown', ['graphene', '--oxide', '90', '--lamp', 'candle'], 'badUsage'],
    ['a camera table that is not there', ['graphene', '--oxide', '90', '--camera', './none.csv'], 'noSuchFile'],
    ['twelve layers', ['graphene', '--oxide', '90', '--layers', '0-12'], 'badUsage'],
    ['layers backwards', ['graphene', '--oxide', '90', '--layers', '4-2'], 'badUsage'],
    ['no noise at all', ['graphene', '--oxide', '90', '--noise', '0'], 'badUsage'],
  ])('is refused: %s', async (_what, words, code) => {
    await expect(run(...words)).rejects.toMatchObject({ code });
  });

  test('tables of one\'s own are taken, all four', async () => {
    const file = async (name: string, ...lines: readonly string[]): Promise<string> => {
      await writeFile(join(folder, name), lines.join('\n'));
      return join(folder, name);
    };
    const material = await file('m.csv', '# layer_thickness_nm: 0.34', '# name: as in Blake 2007', 'wavelength_nm,n,k', '380,2.6,1.3', '780,2.6,1.3');
    const oxide = await file('o.csv', 'wavelength_nm,n,k', '380,1,0', '780,1,0');
    const camera = await file('c.csv', 'wavelength_nm,grey', '380,1', '780,1');
    const lamp = await file('l.csv', 'wavelength_nm,power', '380,1', '780,1');
    const words = ['--material-file', material, '--camera', camera, '--lamp', lamp, '--na', '0', '--filter', '550/4'];
    const onOxide = await figures(...words, '--oxide', '276');
    // Independent calculation for n = 2.6 - 1.3i: 0.145 at 276 nm, 550 nm, NA 0.
    expect(Math.abs((onOxide.ladder[1]?.contrast[0] as number) - 0.145)).toBeLessThan(0.001);
    // An oxide of air, half a wave thick, is not there (closed form): the contrast is that on bare silicon.
    const [onAir, onNothing] = [await figures(...words, '--oxide', '275', '--oxide-file', oxide), await figures(...words, '--oxide', '0')];
    expect(Math.abs((onAir.ladder[1]?.contrast[0] as number) - (onNothing.ladder[1]?.contrast[0] as number))).toBeLessThan(0.001);
  });
});
