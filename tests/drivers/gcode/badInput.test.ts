import { afterAll, describe, expect, it } from 'vitest';
import { sentenceFor } from '../../../daemon/errors/index.ts';
import { openGcodeController, type GcodeOptions } from '../../../drivers/gcode/index.ts';
import { serialOpener } from '../../../drivers/line/serialWire.ts';
import { openStranger, type Stranger } from '../../../simulators/farEnd/firmware/strangers.ts';
import { atEnd, AXES, clock, closeAll, firmware, opened, optionsFor } from './rig.ts';

afterAll(closeAll);

const stage = { x: AXES.x, y: AXES.y };

function optionsAt(port: string, more: Partial<GcodeOptions> = {}): GcodeOptions {
  return { clock, openWire: serialOpener({ port, baudRate: 9600 }, clock), line: { line: port, baudRate: 9600 }, reference: 'homing', bootWithinMs: 300, stage, ...more };
}

async function refusal(options: GcodeOptions) {
  const error: unknown = await openGcodeController(options).then(
    () => 'it opened',
    (reason: unknown) => reason,
  );
  return { error, sentence: sentenceFor(error).sentence };
}

function stranger(kind: Stranger): GcodeOptions {
  const line = openStranger(kind);
  atEnd(() => line.close());
  return optionsAt(line.path);
}

// The codes are those of drivers/interfaces/error.ts; that the words help a person is our own judgement, no source.
describe.concurrent('what is at the end of the line is not the controller', () => {
  it('a silent line', async () => {
    const options = stranger('silent');
    const { error, sentence } = await refusal(options);
    expect(error).toMatchObject({ code: 'noAnswer', details: { line: options.line.line, baudRate: 9600 } });
    expect(sentence).toContain(options.line.line);
  });

  it('a device that complains about everything', async () => {
    const { error, sentence } = await refusal(stranger('complains'));
    expect(error).toMatchObject({ code: 'wrongDevice', details: { baudRate: 9600, seen: expect.stringContaining('ERR?'), seenHex: expect.stringContaining('45 52 52 3f') } });
    expect(sentence).toContain('ERR?');
  });

  it('an instrument that answers to its name alone', async () => {
    const { error, sentence } = await refusal(stranger('instrument'));
    expect(error).toMatchObject({ code: 'wrongDevice', details: { seen: expect.stringContaining('BRAMBLE INSTRUMENTS') } });
    expect(sentence).toContain('BRAMBLE INSTRUMENTS,LAMP 40');
  });

  it('a wrong baud rate', async () => {
    const fake = firmware();
    fake.babble();
    const { error, sentence } = await refusal(optionsFor(fake, { stage, bootWithinMs: 300 }));
    expect(error).toMatchObject({ code: 'garbled', details: { line: fake.stableName, baudRate: 115_200, seenHex: expect.stringMatching(/^([89a-f][0-9a-f] ?)+$/) } });
    expect(sentence).toMatch(/seen hex [89a-f].*`baudRate`/);
  });
});

describe.concurrent('the line cannot be opened', () => {
  it('no such port: the known ones are named', async () => {
    const { error, sentence } = await refusal(optionsAt('/dev/serial/by-id/usb-Nowhere'));
    expect(error).toMatchObject({ code: 'noSuchLine', details: { line: '/dev/serial/by-id/usb-Nowhere', baudRate: 9600, known: expect.any(String) } });
    expect(sentence).toMatch(/usb-Nowhere.*known .*`nightjar instruments`/);
  });

  it('another program has it', async () => {
    const fake = firmware();
    await opened(fake, { stage });
    const { error, sentence } = await refusal(optionsFor(fake, { stage }));
    expect(error).toMatchObject({ code: 'lineBusy', details: { line: fake.stableName } });
    expect(sentence).toContain(fake.stableName);
  });
});

describe.concurrent('the settings of the controller', () => {
  const cases: readonly (readonly [string, Parameters<typeof firmware>[0], Partial<GcodeOptions>, object])[] = [
    ['other steps', { build: { stepsPerMm: [4000, 2000, 10_000] } }, { stage }, { setting: '$101', expected: 4000, found: 2000 }],
    ['a travel that is too short', { build: { travelMm: [3, 16, 5] } }, { stage }, { setting: '$130' }],
    ['no switches', { build: { hasSwitches: false } }, { stage }, { setting: '$22', expected: 1, found: 0 }],
    ['focus that homes into the chip', { build: { homesLow: 4 } }, { focus: AXES.z }, { setting: '$23', found: 'towards the chip' }],
    ['focus mounted upside down', {}, { focus: { ...AXES.z, sign: -1, originUm: 0 } }, { setting: '$23', found: 'towards the chip' }],
  ];
  it.each(cases)('%s', async (_, build, options, details) => {
    const { error, sentence } = await refusal(optionsFor(firmware(build), options));
    expect(error).toMatchObject({ code: 'settingsDiffer', details });
    expect(sentence).toMatch(/setting \$\d+, meaning .*, expected .*, found /);
  });
});
