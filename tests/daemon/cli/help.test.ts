import { describe, expect, it } from 'vitest';
import { runCli } from './runCli.ts';

/** Protects: what the command line says of itself, and how it ends on words that it does not know. */

const commands: readonly (readonly [string, readonly string[]])[] = [
  ['serve', ['[runsheet]', '--instrument <file>', '--data <folder>', '--port <n>', '--tell <file>', '--no-tell']],
  ['plan', ['<runsheet>', '--instrument <file>', '--picture <file>', '--json']],
  ['scan', ['[runsheet]', '--instrument <file>', '--data <folder>', '--resume', '--json', '--workers <n>', '--tell <file>', '--no-tell']],
  ['classify', ['<folder>', '--out <file>', '--picture <file>', '--layers <from-to>', '--json']],
  ['check', ['<file>', '--json']],
  ['calibrate', ['<procedure>', '--instrument <file>', '--at <x,y>', '--path <name>', '--to <name>', '--pitch-um <um>', '--focus-range-um <um>']],
  ['instruments', ['[instrument]', '--json']],
  ['doctor', ['[instrument]', '--data <folder>', '--json']],
  ['describe', ['<file>', '--try', '--line <line>', '--yes']],
  ['drift', ['--data <folder>', '--night <id>', '--json']],
  ['home', ['--instrument <file>', '--here', '--yes']],
  ['notice', ['<runsheet>', '--instrument <file>', '--out <file>', '--from <time>']],
  ['tell', ['[people]', '--test']],
  ['verify', ['<folder>', '--deep', '--json']],
  ['demo', ['--once', '--port <n>']],
];

describe('nightjar --help', () => {
  it('names every command and every exit code, and says that Stop is no safety device', async () => {
    const { code, output } = await runCli(['--help']);
    expect(code).toBe(0);
    for (const [name] of commands) expect(output).toMatch(new RegExp(`^ {2}${name} `, 'm'));
    for (const exit of ['0 done', '1 failed', '2 wrong input', '3 stopped safely', '130 interrupted']) expect(output).toContain(exit);
    expect(output).toContain('It is not a safety device');
  });

  it.each(commands)('%s --help names its arguments and options', async (name, words) => {
    const { code, output } = await runCli([name, '--help']);
    expect(code).toBe(0);
    expect(output).toContain(`Usage: nightjar ${name}`);
    for (const word of words) expect(output).toContain(word);
  });

  it('prints a version', async () => {
    expect(await runCli(['--version'])).toMatchObject({ code: 0, output: expect.stringMatching(/^\d+\.\d+\.\d+\n$/) });
  });
});

describe('words that are not known', () => {
  it.each([
    [['scam', 'tonight.yaml'], "unknown command 'scam'"],
    [['scan', '--resum'], "unknown option '--resum'"],
    [['plan'], "missing required argument 'runsheet'"],
    [['check'], "missing required argument 'file'"],
    [['scan'], 'Name a run sheet, or go on with --resume'],
    [['scan', '--resume', '--workers', 'many'], '--workers many: a whole number from 1 to 64 is wanted'],
    [['classify', '.', '--layers', '4-1'], '--layers 4-1: a number or a range within 1 to 10 is wanted'],
  ])('end with 2 and say what is wrong: %j', async (words, said) => {
    const { code, output, errors } = await runCli(words);
    expect(code).toBe(2);
    expect(errors).toContain(said);
    expect(output).toBe('');
  });
});
