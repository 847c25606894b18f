import { dirname } from 'node:path';
import { bytes } from '../errors/index.ts';
import { advice, cannotBeTold, ok, toMend, type Finding } from './finding.ts';
import type { Examined, Surroundings } from './surroundings.ts';
import { userName } from './users.ts';

const CHECK = 'data folder';
const ELSEWHERE = 'keep the records elsewhere with --data FOLDER';
/** Crops and records of a night need less, raw frames of one more (common practice, no source); `nightjar plan` tells it for a run sheet. */
const LEAST_FREE_BYTES = 2e9;
const COMFORTABLE_FREE_BYTES = 20e9;

interface FileSystem {
  readonly name: string;
  /** Why records do not belong there; undefined where they do. */
  readonly trouble?: string;
}

const FORGETS = 'it is gone when the computer is switched off';
/** SQLite's own page on write-ahead logging: it does not work over a network file system. */
const REMOTE = 'it is reached over a network, where the database cannot keep its promise that what is recorded stays';
const BY_PROGRAM = 'it is run by a program, maybe over a network, which the database cannot rely on';

const FRAIL = 'it may lose files when power fails, and knows no owners';

/** Numbers as statfs(2) and linux/magic.h list them; those of ntfs and zfs from memory. */
const fileSystems: Readonly<Record<number, FileSystem>> = {
  0x01021994: { name: 'tmpfs', trouble: FORGETS },
  0x858458f6: { name: 'ramfs', trouble: FORGETS },
  0x794c7630: { name: 'overlayfs', trouble: 'it belongs to a container and goes with it' },
  0x6969: { name: 'nfs', trouble: REMOTE },
  0x517b: { name: 'smb', trouble: REMOTE },
  0xff534d42: { name: 'cifs', trouble: REMOTE },
  0xfe534d42: { name: 'smb2', trouble: REMOTE },
  0x5346414f: { name: 'afs', trouble: REMOTE },
  0x6b414653: { name: 'afs', trouble: REMOTE },
  0x00c36400: { name: 'ceph', trouble: REMOTE },
  0x01021997: { name: '9p', trouble: REMOTE },
  0x65735546: { name: 'fuse', trouble: BY_PROGRAM },
  0x4d44: { name: 'vfat', trouble: FRAIL },
  0x2011bab0: { name: 'exfat', trouble: FRAIL },
  0x7366746e: { name: 'ntfs', trouble: FRAIL },
  0xef53: { name: 'ext2, ext3 or ext4' },
  0x9123683e: { name: 'btrfs' },
  0x58465342: { name: 'xfs' },
  0xf2f52010: { name: 'f2fs' },
  0x2fc12fc1: { name: 'zfs' },
};

/** The folder itself, or the nearest above it that is there: it will be made in that one. */
async function nearest(folder: string, surroundings: Surroundings): Promise<string> {
  if ((await surroundings.facts(folder)) || dirname(folder) === folder) return folder;
  return nearest(dirname(folder), surroundings);
}

async function aboutWriting(folder: string, there: string, surroundings: Surroundings): Promise<Finding> {
  const facts = await surroundings.facts(there);
  if (!facts) return cannotBeTold(CHECK, `nothing can be read of ${there}`, `ls -ld ${there}`);
  if (facts.kind !== 'folder') return toMend(CHECK, `${there} is no folder`, ELSEWHERE);
  if (await surroundings.may('createIn', there)) return ok(CHECK, there === folder ? `${folder} can be written to` : `${folder} is not there yet; it can be made in ${there}`);
  const user = await userName(surroundings);
  return toMend(CHECK, `${there} cannot be written to by ${user}`, there === folder ? `sudo chown -R ${user} ${folder}, or ${ELSEWHERE}` : `sudo install -d -o ${user} ${folder}, or ${ELSEWHERE}`);
}

function aboutSpace(freeBytes: number): Finding {
  const seen = `${bytes(freeBytes)} free`;
  if (freeBytes < LEAST_FREE_BYTES) return toMend('disk', `${seen}, which is not enough for a night`, `make room, or ${ELSEWHERE}`);
  if (freeBytes < COMFORTABLE_FREE_BYTES) return advice('disk', `${seen}: not enough for raw frames of a whole night`, 'see what a night needs with `nightjar plan RUNSHEET`, and make room');
  return ok('disk', seen);
}

function aboutFileSystem(type: number): Finding {
  // Some systems hand the number out as a signed one.
  const { name, trouble } = fileSystems[type >>> 0] ?? { name: undefined };
  if (name === undefined) return cannotBeTold('file system', `of a kind that is not known here (0x${(type >>> 0).toString(16)})`, 'a disk of this computer is wanted: findmnt -T FOLDER says what it is');
  return trouble === undefined ? ok('file system', name) : advice('file system', `${name}: ${trouble}`, `take a disk of this computer: ${ELSEWHERE}`);
}

/** Whether the records can be written, have room, and stay. */
export async function checkDataFolder({ surroundings, dataFolder }: Examined): Promise<readonly Finding[]> {
  const there = await nearest(dataFolder, surroundings);
  const writing = await aboutWriting(dataFolder, there, surroundings);
  const space = await surroundings.space(there);
  if (!space) return [writing, cannotBeTold('disk', `the free space at ${there} cannot be read`, `df -h ${there}`)];
  return [writing, aboutSpace(space.freeBytes), aboutFileSystem(space.fileSystem)];
}
