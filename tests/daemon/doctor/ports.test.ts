import { describe, expect, it } from 'vitest';
import { instrumentWith, SPARE_PORT, STAGE_PORT } from './instruments.ts';
import { findingOf, findingsOf, FOLDER, GROUP, PORT } from './madeUp.ts';

/**
 * Protects: who may open a serial port, who has it, and what to do about it.
 * Groups and their lines as in group(5), usermod(8) with -a -G; /proc as in proc(5).
 */

const instrument = instrumentWith();
/** The session does not have the group: neither by now nor, in the second one, by the list. */
const outside = { groups: [1000], forbidden: ['/dev/ttyUSB0'] };
const stranger = { ...outside, texts: { '/etc/group': GROUP.replace('dialout:x:20:anna', 'dialout:x:20:') } };

describe('rights to a serial port', () => {
  it('are there', async () => {
    expect(await findingOf('serial port')).toEqual({ check: 'serial port', verdict: 'ok', seen: `${STAGE_PORT} may be opened` });
    expect(await findingOf('serial port', { instrument })).toMatchObject({ verdict: 'ok', seen: `${STAGE_PORT} (stage, focus) may be opened` });
  });
  it('are missing: names the group and the user', async () => {
    const finding = await findingOf('serial port', stranger);
    expect(finding).toMatchObject({ verdict: 'toMend', mend: 'sudo usermod -aG dialout anna, then log out and in again' });
    expect(finding.seen).toContain('it belongs to group dialout, which anna is not in');
  });
  it('belong to uucp on other systems', async () => {
    const facts = { '/dev/ttyUSB0': { ...PORT, gid: 986 } };
    const finding = await findingOf('serial port', { ...stranger, facts, texts: { '/etc/group': 'uucp:x:986:\n' } });
    expect(finding.mend).toBe('sudo usermod -aG uucp anna, then log out and in again');
  });
  it('were given since this session began', async () => {
    expect(await findingOf('serial port', outside)).toMatchObject({ verdict: 'toMend', mend: 'log out and in again' });
  });
  it.each([
    ['to root alone', { ...PORT, gid: 0 }],
    ['to no group', { ...PORT, mode: 0o600 }],
  ])('are given %s: names a rule for udev', async (_, facts) => {
    const finding = await findingOf('serial port', { ...stranger, facts: { '/dev/ttyUSB0': facts } });
    expect(finding.verdict).toBe('toMend');
    expect(finding.mend).toContain('/etc/udev/rules.d/');
  });
  it('are withheld by something else than the group', async () => {
    expect(await findingOf('serial port', { forbidden: ['/dev/ttyUSB0'] })).toMatchObject({ verdict: 'toMend', mend: expect.stringContaining('getfacl /dev/ttyUSB0') });
  });
  it.each([
    [{ LOGNAME: 'nora' }, 'nora'],
    [{ USER: 'nora' }, 'nora'],
    [{}, '$USER'],
  ])('of a user whom no list names: %j', async (env, name) => {
    const finding = await findingOf('serial port', { ...outside, env, texts: { '/etc/passwd': undefined } });
    expect(finding.mend).toBe(`sudo usermod -aG dialout ${name}, then log out and in again`);
  });
});

describe('a serial port that the instrument file names', () => {
  it('is not there: says what is', async () => {
    const [named, other] = await findingsOf('serial port', { instrument: instrumentWith({ serial: { port: SPARE_PORT } }) });
    expect(named?.verdict).toBe('toMend');
    expect(named?.seen).toBe(`${SPARE_PORT} (stage, focus) is not there; plugged in: ${STAGE_PORT}`);
    expect(other?.verdict).toBe('ok');
  });
  it('is called by a name that passes', async () => {
    const finding = await findingOf('serial port', { instrument: instrumentWith({ serial: { port: '/dev/ttyUSB0' } }) });
    expect(finding).toMatchObject({ verdict: 'advice', mend: `write its stable name into the instrument file: ${STAGE_PORT}` });
  });
  it('is something else', async () => {
    expect(await findingOf('serial port', { instrument, facts: { '/dev/ttyUSB0': FOLDER } })).toMatchObject({ verdict: 'toMend', seen: expect.stringContaining('is no serial port') });
  });
  it('cannot be looked at', async () => {
    expect(await findingOf('serial port', { closed: ['/dev'] })).toMatchObject({ verdict: 'cannotBeTold', mend: 'ls -l /dev/ttyUSB0' });
  });
});

describe('where none is plugged in', () => {
  const none = { plugged: [] };
  it('the group is all that can be said', async () => {
    expect(await findingOf('serial port', none)).toMatchObject({ verdict: 'ok', seen: expect.stringContaining('anna is in group dialout') });
    expect(await findingOf('serial port', { ...none, ...stranger })).toMatchObject({ verdict: 'advice', mend: 'sudo usermod -aG dialout anna, then log out and in again' });
    expect(await findingOf('serial port', { ...none, ...outside })).toMatchObject({ verdict: 'advice', mend: 'log out and in again' });
    expect(await findingOf('serial port', { ...none, uid: 0 })).toMatchObject({ verdict: 'ok' });
    expect(await findingOf('serial port', { ...none, texts: { '/etc/group': undefined } })).toMatchObject({ verdict: 'cannotBeTold' });
    expect(await findingsOf('port in use', none)).toEqual([]);
  });
});

describe('the user', () => {
  it('who is root is told that this says nothing of others', async () => {
    expect(await findingOf('user')).toEqual({ check: 'user', verdict: 'ok', seen: 'anna' });
    expect(await findingOf('user', { uid: 0 })).toMatchObject({ verdict: 'advice', seen: expect.stringContaining('root') });
  });
});

/** A process that has the port open. */
function holder(name: string, ...command: readonly string[]) {
  return { texts: { '/proc/812/comm': `${name}\n`, '/proc/812/cmdline': `${command.join('\0')}\0` }, links: { '/proc/812/fd/17': '/dev/ttyUSB0', '/proc/812/fd/18': '/dev/ttyUSB0' } };
}

describe('a port in use', () => {
  it('is free', async () => {
    expect(await findingOf('port in use')).toMatchObject({ verdict: 'ok', seen: `${STAGE_PORT} is free` });
  });
  it('is held by another program, which is named', async () => {
    const finding = await findingOf('port in use', { instrument, ...holder('minicom', 'minicom', '-D', '/dev/ttyUSB0') });
    expect(finding).toEqual({
      check: 'port in use',
      verdict: 'toMend',
      seen: `${STAGE_PORT} is held by minicom (process 812: minicom -D /dev/ttyUSB0)`,
      mend: 'end that program first (by its own means, else kill 812)',
    });
  });
  it('is only worth advice where the instrument file does not name it', async () => {
    expect(await findingOf('port in use', holder('minicom'))).toMatchObject({ verdict: 'advice' });
  });
  it('is held with words without end, of which some are shown', async () => {
    const { seen } = await findingOf('port in use', holder('minicom', 'minicom', 'x'.repeat(300)));
    expect(seen.length).toBeLessThan(220);
  });
  it.each([[['/usr/bin/node', '/srv/nightjar/daemon/bin.js', 'serve']], [['node', '/usr/local/bin/nightjar', 'serve']], [['nightjar', 'serve']]])('is held by Nightjar itself: %j', async (command) => {
    expect(await findingOf('port in use', { instrument, ...holder('node', ...command) })).toMatchObject({ verdict: 'ok', seen: `${STAGE_PORT} is held by Nightjar itself (process 812)` });
  });
  it('cannot be told where the files of others are hidden, or their programs', async () => {
    const expected = { verdict: 'cannotBeTold', mend: 'sudo fuser -v /dev/ttyUSB0' };
    expect(await findingOf('port in use', { closed: ['/proc/1/fd'] })).toMatchObject(expected);
    expect(await findingOf('port in use', { texts: { '/proc/1/comm': undefined }, links: { '/proc/1/fd/0': undefined } })).toMatchObject(expected);
  });
});

describe('services that take ports', () => {
  it('do not run', async () => {
    expect(await findingOf('serial services')).toMatchObject({ verdict: 'ok' });
  });
  it.each(['ModemManager', 'brltty'])('%s runs', async (name) => {
    const finding = await findingOf('serial services', { texts: { '/proc/455/comm': `${name}\n` } });
    expect(finding).toMatchObject({ verdict: 'advice', mend: `where nobody needs it: sudo systemctl disable --now ${name}` });
  });
  it('cannot be told where the programs of others are hidden', async () => {
    expect(await findingOf('serial services', { texts: { '/proc/1/comm': undefined }, links: { '/proc/1/fd/0': undefined } })).toMatchObject({ verdict: 'cannotBeTold' });
  });
});
