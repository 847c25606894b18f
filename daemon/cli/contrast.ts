import { contrastReport, materialIds, equalEnergy, halogen, idealColourBands, idealMonoBands, observerBands, usualUnevenness, whiteLed, type BandPass, type BandSet, type ContrastRequest, type Lamp } from '../../planner/optics/index.ts';
import { contrastJson } from '../contrast/json.ts';
import { contrastText } from '../contrast/text.ts';
import { checkChartName, writeChart } from '../contrast/writeChart.ts';
import { NightjarError } from '../errors/index.ts';
import { materialNamed, materialNames } from '../materials/known.ts';
import { parseCamera, parseLamp, parseMaterial, parseOxide, readTable } from '../materials/read.ts';
import type { AddCommand } from './context.ts';

interface ContrastOptions {
  readonly oxide: string;
  readonly na: string;
  readonly lamp: string;
  readonly camera: string;
  readonly filter?: string;
  readonly layers: string;
  readonly noise: string;
  readonly unevenness: string;
  readonly areaUm2: string;
  readonly pixelUm: string;
  readonly materialFile?: string;
  readonly oxideFile?: string;
  readonly chart?: string;
  readonly json?: boolean;
}

const lamps: ReadonlyMap<string, Lamp> = new Map([['halogen', halogen], ['whiteLed', whiteLed], ['equalEnergy', equalEnergy]]);
const cameras: ReadonlyMap<string, BandSet> = new Map([['rgb', idealColourBands], ['mono', idealMonoBands], ['observer', observerBands]]);
const tablesHelp = `
Tables are CSV with a head line; lines that begin with # are comments; 400 to 700 nm at least.
  material  wavelength_nm,n,k  with a comment "# layer_thickness_nm: 0.34"
  oxide     wavelength_nm,n,k
  camera    wavelength_nm,red,green,blue  or  wavelength_nm,grey
  lamp      wavelength_nm,power`;

/** `nightjar contrast MATERIAL --oxide NM`: what layers look like, which oxide and filter suit them, and which cannot be told apart. */
export const contrastCommand: AddCommand = (program, context, done) => {
  program
    .command('contrast')
    .description('contrast and colour of 0 to N layers on an oxide, the best oxide and filter, and a chart; nothing moves')
    .argument('[material]', materialIds.join(', '))
    .requiredOption('--oxide <nm>', 'oxide thickness; 0 is bare silicon')
    .option('--na <na>', 'numerical aperture of the aperture stop', '0.3')
    .option('--lamp <lamp>', 'halogen, whiteLed, equalEnergy, or a table file', 'halogen')
    .option('--camera <camera>', 'rgb, mono, observer (CIE 1931), or a table file', 'rgb')
    .option('--filter <centre/width>', 'band-pass filter in nm, like 590/40')
    .option('--layers <from-to>', 'layer numbers, 0 to 10', '0-6')
    .option('--noise <share>', 'noise of one pixel over the level of the bare oxide', '0.01')
    .option('--unevenness <share>', 'what the flat field leaves uncorrected', String(usualUnevenness))
    .option('--area-um2 <um2>', 'terrace that the noise is averaged over', '50')
    .option('--pixel-um <um>', 'size of a pixel on the chip', '0.69')
    .option('--material-file <file>', 'a material of your own, in place of MATERIAL')
    .option('--oxide-file <file>', 'an oxide of your own, in place of fused silica')
    .option('-c, --chart <file>', 'draw contrast over wavelength and oxide (.svg or .png)')
    .option('--json', 'print every figure as JSON')
    .addHelpText('after', tablesHelp)
    .action(async (material: string | undefined, options: ContrastOptions) => {
      if (options.chart !== undefined) checkChartName(options.chart);
      const report = contrastReport(await requestFrom(material, options));
      if (options.chart !== undefined) await writeChart(report, options.chart);
      context.output.write(options.json ? `${JSON.stringify(contrastJson(report), null, 2)}\n` : contrastText(report));
      done(0);
    });
};

async function requestFrom(material: string | undefined, options: ContrastOptions): Promise<ContrastRequest> {
  const lamp = lamps.get(options.lamp) ?? (await tableNamed('--lamp', options.lamp, [...lamps.keys()], parseLamp));
  const camera = cameras.get(options.camera) ?? (await tableNamed('--camera', options.camera, [...cameras.keys()], parseCamera));
  return {
    ...(await materialFrom(material, options.materialFile)),
    oxideNm: numberFrom('--oxide', options.oxide, 0, 5000),
    ...(options.oxideFile !== undefined && { oxide: await readTable(options.oxideFile, parseOxide) }),
    numericalAperture: numberFrom('--na', options.na, 0, 0.99),
    lampName: options.lamp,
    lamp,
    ...(options.filter !== undefined && { filter: filterFrom(options.filter) }),
    camera,
    layers: layersFrom(options.layers),
    noise: numberFrom('--noise', options.noise, 0.00001, 1),
    unevenness: numberFrom('--unevenness', options.unevenness, 0, 1),
    areaUm2: numberFrom('--area-um2', options.areaUm2, 0.01, 1e6),
    pixelUm: numberFrom('--pixel-um', options.pixelUm, 0.01, 100),
  };
}

async function materialFrom(material: string | undefined, file: string | undefined): Promise<Pick<ContrastRequest, 'material' | 'materialName'>> {
  if ((material === undefined) === (file === undefined)) throw new NightjarError('badUsage', { reason: 'either a material or --material-file is wanted, not both' });
  if (file !== undefined) {
    const film = await readTable(file, parseMaterial);
    return { material: film, materialName: film.table.name };
  }
  const id = materialNamed(material ?? '');
  return { material: id, materialName: materialNames[id] };
}

/** A word that is none of the known ones is the name of a table file, if it looks like one. Throws `badUsage`. */
async function tableNamed<T>(option: string, text: string, known: readonly string[], parse: (text: string, file: string) => T): Promise<T> {
  if (!/[./\\]/.test(text)) throw new NightjarError('badUsage', { reason: `${option} ${text}: one of ${known.join(', ')}, or a table file is wanted` });
  return readTable(text, parse);
}

function numberFrom(option: string, text: string, min: number, max: number): number {
  const value = text.trim() === '' ? NaN : Number(text);
  if (!(value >= min && value <= max)) throw new NightjarError('badUsage', { reason: `${option} ${text}: a number from ${min} to ${max} is wanted` });
  return value;
}

/** "590/40". Throws `badUsage`. */
function filterFrom(text: string): BandPass {
  const match = /^(\d+(?:\.\d+)?)\/(\d+(?:\.\d+)?)$/.exec(text);
  const [centreNm, widthNm] = [Number(match?.[1]), Number(match?.[2])];
  if (!match || centreNm < 400 || centreNm > 750 || widthNm < 4 || widthNm > 300) {
    throw new NightjarError('badUsage', { reason: `--filter ${text}: centre and full width in nm are wanted, like 590/40, within 400 to 750 and 4 to 300` });
  }
  return { centreNm, widthNm };
}

/** "0-6" or "6". Throws `badUsage`. */
function layersFrom(text: string): readonly [number, number] {
  const match = /^(\d+)(?:-(\d+))?$/.exec(text);
  const from = match?.[2] === undefined ? 0 : Number(match[1]);
  const to = Number(match?.[2] ?? match?.[1]);
  if (!match || to < 1 || to > 10 || from > to) throw new NightjarError('badUsage', { reason: `--layers ${text}: a range within 0 to 10 is wanted, like 0-6` });
  return [from, to];
}
