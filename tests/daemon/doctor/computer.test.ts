import { describe, expect, it } from 'vitest';
import { findingOf, FOLDER } from './madeUp.ts';

/** Protects: Node, disk, memory, clock and sleep, each where all is well, where it is not, and where it cannot be read. */

describe('Node', () => {
  it.each([
    ['20.19.0', 'ok'],
    ['20.19.5', 'ok'],
    ['21.0.0', 'ok'],
    ['24.1.0', 'ok'],
    ['20.18.9', 'toMend'],
    ['18.20.4', 'toMend'],
  ])('%s where 20.19 or later is wanted: %s', async (nodeVersion, verdict) => {
    expect(await findingOf('Node', { nodeVersion })).toMatchObject({ verdict });
  });
  it.each([undefined, '{ "engines": { "node": "20 || 22" } }', '{}', 'null', '{ broken'])('cannot be told from %s', async (text) => {
    expect(await findingOf('Node', { texts: { '/app/package.json': text } })).toMatchObject({ verdict: 'cannotBeTold' });
  });
});

describe('the data folder', () => {
  it('can be written to, or made', async () => {
    expect(await findingOf('data folder')).toMatchObject({ verdict: 'ok', seen: '/data can be written to' });
    expect(await findingOf('data folder', { dataFolder: '/data/nights/first' })).toMatchObject({ verdict: 'ok', seen: '/data/nights/first is not there yet; it can be made in /data' });
  });
  it('cannot be written to: names the command for it', async () => {
    expect(await findingOf('data folder', { forbidden: ['/data'] })).toMatchObject({ verdict: 'toMend', mend: expect.stringMatching(/^sudo chown -R anna \/data, or/) });
    expect(await findingOf('data folder', { forbidden: ['/data'], dataFolder: '/data/a' })).toMatchObject({ verdict: 'toMend', mend: expect.stringMatching(/^sudo install -d -o anna \/data\/a, or/) });
  });
  it('is a file', async () => {
    expect(await findingOf('data folder', { facts: { '/data': { ...FOLDER, kind: 'other' } } })).toMatchObject({ verdict: 'toMend', seen: '/data is no folder' });
  });
});

describe('the disk', () => {
  const free = (freeBytes: number, fileSystem = 0xef53) => ({ space: { freeBytes, fileSystem } });
  it.each([
    [300e9, 'ok', '300 GB free'],
    [12e9, 'advice', '12 GB free'],
    [1.5e9, 'toMend', '1.5 GB free'],
  ])('has %d bytes free: %s', async (freeBytes, verdict, seen) => {
    expect(await findingOf('disk', free(freeBytes))).toMatchObject({ verdict, seen: expect.stringContaining(seen) });
  });
  it('cannot be read', async () => {
    expect(await findingOf('disk', { space: undefined })).toMatchObject({ verdict: 'cannotBeTold', mend: 'df -h /data' });
  });
  // Numbers of linux/magic.h; ZFS's from memory. The fourth is what a signed 32-bit number makes of cifs.
  it.each([
    [0xef53, 'ok', 'ext'],
    [0x9123683e, 'ok', 'btrfs'],
    [0x01021994, 'advice', 'tmpfs'],
    [0xff534d42 | 0, 'advice', 'cifs'],
    [0x6969, 'advice', 'nfs'],
    [0x65735546, 'advice', 'fuse'],
    [0x794c7630, 'advice', 'overlayfs'],
    [0x2fc12fc1, 'ok', 'zfs'],
    [0x12345678, 'cannotBeTold', '0x12345678'],
  ])('of kind %i: %s', async (fileSystem, verdict, name) => {
    expect(await findingOf('file system', free(300e9, fileSystem))).toMatchObject({ verdict, seen: expect.stringContaining(name) });
  });
});

describe('memory', () => {
  const available = (kib: number) => ({ texts: { '/proc/meminfo': `MemTotal: 8000000 kB\nMemAvailable:    ${kib} kB\n` } });
  it.each([
    [6_000_000, 'ok'],
    [1_500_000, 'advice'],
    [500_000, 'toMend'],
  ])('%i KiB: %s', async (kib, verdict) => {
    expect(await findingOf('memory', available(kib))).toMatchObject({ verdict });
  });
  it('cannot be read', async () => {
    expect(await findingOf('memory', { texts: { '/proc/meminfo': undefined } })).toMatchObject({ verdict: 'cannotBeTold' });
  });
});

describe('the clock', () => {
  const SYNCED = '/run/systemd/timesync/synchronized';
  it('is synchronised', async () => {
    expect(await findingOf('clock')).toMatchObject({ verdict: 'ok', seen: '2026-11-26 20:15 UTC, synchronised by systemd-timesyncd' });
    expect(await findingOf('clock', { texts: { [SYNCED]: undefined }, facts: { '/run/chrony': FOLDER } })).toMatchObject({ verdict: 'ok', seen: expect.stringContaining('kept by chrony') });
  });
  it('has a service that has reached nobody', async () => {
    expect(await findingOf('clock', { texts: { [SYNCED]: undefined }, facts: { '/run/systemd/timesync': FOLDER } })).toMatchObject({ verdict: 'advice' });
  });
  it('has no service that can be seen', async () => {
    expect(await findingOf('clock', { texts: { [SYNCED]: undefined } })).toMatchObject({ verdict: 'cannotBeTold', mend: expect.stringContaining('timedatectl set-ntp true') });
  });
  it.each([Date.UTC(1970, 0, 1), Date.UTC(2015, 5, 1), Date.UTC(2150, 0, 1)])('cannot be right at %i', async (nowMs) => {
    expect(await findingOf('clock', { nowMs })).toMatchObject({ verdict: 'toMend', mend: expect.stringContaining('timedatectl') });
  });
});

describe('sleep', () => {
  const awake = { '/etc/systemd/system/sleep.target': undefined };
  const eachMasked = Object.fromEntries(['suspend', 'hibernate', 'hybrid-sleep'].map((unit) => [`/run/systemd/system/${unit}.target`, '/dev/null']));
  const logind = (text: string) => ({ '/etc/systemd/logind.conf': `[Login]\n#IdleAction=poweroff\n${text}\n` });

  it('is masked as a whole, or each way of it', async () => {
    expect(await findingOf('sleep')).toMatchObject({ verdict: 'ok' });
    expect(await findingOf('sleep', { links: { ...awake, ...eachMasked } })).toMatchObject({ verdict: 'ok' });
  });
  it('is possible: says how to mask it, and what the lid does', async () => {
    const finding = await findingOf('sleep', { links: awake });
    expect(finding).toMatchObject({ verdict: 'advice', mend: 'sudo systemctl mask sleep.target suspend.target hibernate.target hybrid-sleep.target' });
    expect(finding.seen).not.toContain('lid');
    const lid = { '/proc/acpi/button/lid/LID0/state': 'state: open\n' };
    expect((await findingOf('sleep', { links: awake, texts: lid })).seen).toContain('closing the lid does this: suspend');
    expect((await findingOf('sleep', { links: awake, texts: { ...lid, ...logind('HandleLidSwitch=ignore') } })).seen).toContain('closing the lid does this: ignore');
  });
  it('comes by itself when nobody is there', async () => {
    expect(await findingOf('sleep', { links: awake, texts: logind('IdleAction=suspend') })).toMatchObject({ verdict: 'toMend', seen: expect.stringContaining('suspend') });
    expect(await findingOf('sleep', { texts: logind('IdleAction=suspend') })).toMatchObject({ verdict: 'ok' });
    expect(await findingOf('sleep', { texts: logind('IdleAction=poweroff') })).toMatchObject({ verdict: 'toMend' });
    expect(await findingOf('sleep', { texts: logind('IdleAction=lock') })).toMatchObject({ verdict: 'ok' });
  });
  // logind.conf(5): additions by name over the main file; one in /etc hides its namesake in /usr/lib.
  it('goes by the last of the settings', async () => {
    const additions = { '/etc/systemd/logind.conf.d/50-lab.conf': '[Login]\nIdleAction=ignore\n' };
    expect(await findingOf('sleep', { texts: { ...logind('IdleAction=poweroff'), ...additions } })).toMatchObject({ verdict: 'ok' });
    const vendor = { '/usr/lib/systemd/logind.conf.d/50-lab.conf': '[Login]\nIdleAction=poweroff\n' };
    expect(await findingOf('sleep', { texts: { ...vendor, ...additions } })).toMatchObject({ verdict: 'ok' });
    const later = { '/usr/lib/systemd/logind.conf.d/60-lab.conf': '[Login]\nIdleAction=poweroff\n' };
    expect(await findingOf('sleep', { texts: { ...later, ...additions } })).toMatchObject({ verdict: 'toMend' });
  });
  it('cannot be told without systemd', async () => {
    expect(await findingOf('sleep', { facts: { '/run/systemd/system': undefined } })).toMatchObject({ verdict: 'cannotBeTold' });
  });
});
