import { existsSync, readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import type { ScanPlan } from '../../../planner/plan/types.ts';
import { CliFolders, runCli } from './runCli.ts';

/** Protects: `nightjar plan` shows the night that would be scanned; what the stage cannot reach is refused before anything is written or moved. */

const folders = new CliFolders();
afterEach(() => folders.clear());

const count = (text: string, part: RegExp): number => [...text.matchAll(part)].length;

describe('nightjar plan', () => {
  it('prints tiles, time and disk, and the whole plan as JSON', async () => {
    const { sheet, instrument } = folders.make();
    const told = await runCli(['plan', sheet, '-i', instrument]);
    const { code, output } = await runCli(['plan', sheet, '-i', instrument, '--json']);
    const plan = JSON.parse(output) as ScanPlan;
    expect([told.code, code]).toEqual([0, 0]);
    expect(plan.chips.map(({ name }) => name)).toEqual(['T-01']);
    expect(plan.chips.flatMap(({ tiles }) => tiles.map(({ index }) => index))).toEqual(Array.from({ length: plan.tileCount }, (_, n) => n));
    // 256 x 208 px of 6.9 um through 10x: 177 x 144 um.
    expect(told.output).toContain(`${plan.tileCount} tiles of 177 × 144 µm, about ${Math.round(plan.forecastS)} s, about`);
    expect(told.output).toMatch(/^T-01 .* 3$/m);
  });

  it('says time and disk of the same chips through every optical path, and names the chosen one', async () => {
    const { sheet, instrument } = folders.make((made) => {
      Object.assign(made.objectives, { '20x': { magnification: 20, numericalAperture: 0.45, turretPosition: 1 } });
      Object.assign(made.opticalPaths, { closer: { objective: '20x', lampIntensity: 0.6, exposureMs: 12 } });
    });
    const { output } = await runCli(['plan', sheet, '-i', instrument]);
    const plan = JSON.parse((await runCli(['plan', sheet, '-i', instrument, '--json'])).output) as ScanPlan;
    expect(output).toMatch(new RegExp(`^survey \\(chosen\\) +10x +${plan.tileCount} `, 'm'));
    const closer = Number(/^closer +20x +(\d+) /m.exec(output)?.[1]);
    // Four times as many, less what the edges of so small a chip save or cost.
    expect(closer).toBeGreaterThan(2.5 * plan.tileCount);
    expect(closer).toBeLessThan(5 * plan.tileCount);
    expect(output).toContain('The instrument could not take these tiles in less than');
  });

  it('leaves out what is to be skipped, and says when the field is wider than the chip', async () => {
    const skip = [{ rectangle: { centreUm: [20_000, 20_000], widthUm: 400, heightUm: 2000 } }];
    const { sheet, instrument } = folders.make((_, runSheet) => runSheet.chips.forEach((chip) => Object.assign(chip, { skip })));
    const whole = folders.make();
    const tiles = async (files: { readonly sheet: string; readonly instrument: string }) => (JSON.parse((await runCli(['plan', files.sheet, '-i', files.instrument, '--json'])).output) as ScanPlan).tileCount;
    expect(await tiles({ sheet, instrument })).toBeLessThan(await tiles(whole));
    const narrow = folders.make((_, runSheet) => runSheet.chips.forEach((chip) => Object.assign(chip, { edgeMarginUm: 10, outline: { rectangle: { centreUm: [20_000, 20_000], widthUm: 120, heightUm: 100 } } })));
    expect((await runCli(['plan', narrow.sheet, '-i', narrow.instrument])).output).toContain('Chip T-01 is 100 µm wide at most, the field 143.5 µm: its edge and what lies beyond will be in the picture.');
  });

  it('draws the plan', async () => {
    const { folder, sheet, instrument } = folders.make((_, runSheet) => (runSheet.chips[0] ? (runSheet.chips[0].name = 'A<&"B') : undefined));
    const picture = join(folder, 'plan.svg');
    const plan = JSON.parse((await runCli(['plan', sheet, '-i', instrument, '--json', '--picture', picture])).output) as ScanPlan;
    const svg = readFileSync(picture, 'utf8');
    expect(svg).toMatch(/^<svg xmlns="http:\/\/www\.w3\.org\/2000\/svg" /);
    // The chip, what of it is scanned, and one frame for each tile.
    expect(count(svg, /<polygon /g)).toBe(2 + plan.tileCount);
    expect(count(svg, /<circle /g)).toBe(3);
    expect(svg).toContain('A&lt;&amp;&quot;B');
    expect(svg).toMatch(/>\d+ µm<\/text>/);
    expect(svg).not.toContain('NaN');
  });
});

describe('a plan beyond the limits of the stage', () => {
  const beyond = () => folders.make((instrument) => Object.assign(instrument.limits, { xMaxUm: 20_100, yMinUm: 19_950 }));

  it.each(['plan', 'scan'])('is refused by nightjar %s with chip and limit, before anything is written or moved', async (command) => {
    const { folder, sheet, instrument, data } = beyond();
    const { code, output, errors } = await runCli([command, sheet, '-i', instrument, ...(command === 'scan' ? ['--data', data] : [])]);
    expect(code).toBe(2);
    expect(output).toBe('');
    expect(errors).toContain('The plan is refused');
    expect(errors).toMatch(/Chip T-01 needs the stage [\d.]+ µm beyond its limit xMax of 20\.1 mm\./);
    expect(errors).toMatch(/Chip T-01 needs the stage [\d.]+ µm beyond its limit yMin of 19\.95 mm\./);
    expect(errors).toContain('Nothing has moved.');
    expect(existsSync(join(folder, 'data', 'runs'))).toBe(false);
    if (command === 'plan') expect(readdirSync(folder).sort()).toEqual(['instrument.yaml', 'tonight.yaml']);
  });

  it('leaves no night behind, so that the mended run sheet can begin', async () => {
    const { sheet, instrument, data } = beyond();
    await runCli(['scan', sheet, '-i', instrument, '--data', data]);
    expect(await runCli(['scan', '--resume', '-i', instrument, '--data', data])).toMatchObject({ code: 2, errors: expect.stringContaining('There is no night in these records') });
  });
});
