import { join } from 'node:path';
import type { TornDisk } from '../support/tornDisk.ts';

/** A step of a traced process: done to the disk, or a line that it said. */
export type TracedStep = { readonly kind: 'disk'; readonly does: (disk: TornDisk) => void } | { readonly kind: 'said'; readonly text: string };

interface Call {
  readonly name: string;
  readonly args: string;
  readonly result: number;
}

/** Calls that change a disk; strace is asked for these alone. */
export const tracedCalls = 'openat,open,creat,write,pwrite64,writev,pwritev,pwritev2,fsync,fdatasync,rename,renameat,renameat2,unlink,unlinkat,mkdir,mkdirat,ftruncate,fallocate,close';

/** What strace -f writes, a call that was interrupted by another thread's put together again, in the order in which the calls returned. */
function* callsOf(text: string): Generator<Call> {
  const begun = new Map<string, string>();
  for (const line of text.split('\n')) {
    const [, pid = '', rest = ''] = /^(\d+)\s+(.*)$/.exec(line) ?? [];
    const unfinished = /^(.*) <unfinished \.\.\.>$/.exec(rest);
    const resumed = /^<\.\.\. \w+ resumed>(.*)$/.exec(rest);
    if (unfinished) begun.set(pid, unfinished[1] ?? '');
    const whole = resumed ? `${begun.get(pid) ?? ''}${resumed[1] ?? ''}` : rest;
    const [, name, args, result] = /^(\w+)\((.*)\)\s+= (-?\d+)/.exec(whole) ?? [];
    if (!unfinished && name !== undefined && args !== undefined) yield { name, args, result: Number(result) };
  }
}

const hexBytes = (text: string): Uint8Array => Buffer.from(text.replaceAll('\\x', ''), 'hex');

/** Texts and numbers among a call's arguments. */
function parsed(args: string): { readonly texts: Uint8Array[]; readonly numbers: number[] } {
  const texts = [...args.matchAll(/"((?:\\x[0-9a-f]{2})*)"/g)].map(([, text = '']) => hexBytes(text));
  const numbers = args.replace(/"[^"]*"/g, '').split(',').map((each) => Number(each.trim()));
  return { texts, numbers };
}

/** Follows the file descriptors of one process. What lies outside of `root` is left out. */
class Tracer {
  private readonly open = new Map<number, { readonly path: string; at: number }>();
  private readonly root: string;

  constructor(root: string) {
    this.root = root;
  }

  step({ name, args, result }: Call): TracedStep | undefined {
    if (result < 0) return undefined;
    const { texts, numbers } = parsed(args);
    const paths = texts.map((text) => Buffer.from(text).toString('utf8'));
    const [path = '', second = ''] = paths;
    if (/^(open|openat|creat)$/.test(name)) return this.opened(path, args, result);
    if (/^(rename|mkdir|unlink)/.test(name)) return this.named(name, args, path, second);
    const fd = numbers[0] ?? -1;
    if (name === 'close') return void this.open.delete(fd);
    const file = this.open.get(fd);
    if (name === 'write' && fd === 1) return { kind: 'said', text: path };
    return file ? this.changed(name, file, texts[0] ?? new Uint8Array(0), numbers, result) : undefined;
  }

  private isBelow(path: string): boolean {
    return path === this.root || path.startsWith(join(this.root, '/'));
  }

  private opened(path: string, args: string, fd: number): TracedStep | undefined {
    if (!this.isBelow(path)) return undefined;
    this.open.set(fd, { path, at: 0 });
    return args.includes('O_CREAT') ? { kind: 'disk', does: (disk) => disk.create(path, args.includes('O_TRUNC')) } : undefined;
  }

  private named(name: string, args: string, path: string, second: string): TracedStep | undefined {
    if (!this.isBelow(path)) return undefined;
    if (name.startsWith('rename')) return { kind: 'disk', does: (disk) => disk.move(path, second) };
    if (name.startsWith('mkdir')) return { kind: 'disk', does: (disk) => disk.folder(path) };
    return args.includes('AT_REMOVEDIR') ? undefined : { kind: 'disk', does: (disk) => disk.unlink(path) };
  }

  private changed(name: string, file: { readonly path: string; at: number }, bytes: Uint8Array, numbers: readonly number[], result: number): TracedStep | undefined {
    const { path, at } = file;
    if (name === 'fsync' || name === 'fdatasync') return { kind: 'disk', does: (disk) => disk.sync(path) };
    if (name === 'ftruncate') return { kind: 'disk', does: (disk) => disk.truncate(path, numbers[1] ?? 0) };
    if (name === 'pwrite64') return { kind: 'disk', does: (disk) => disk.write(path, numbers[3] ?? 0, bytes.subarray(0, result)) };
    if (name !== 'write') throw new Error(`${name} of ${path} is not understood`);
    file.at = at + result;
    return { kind: 'disk', does: (disk) => disk.write(path, at, bytes.subarray(0, result)) };
  }
}

/** The steps of a traced process on a folder and everything below it. */
export function tracedSteps(trace: string, root: string): TracedStep[] {
  const tracer = new Tracer(root);
  return [...callsOf(trace)].flatMap((call) => tracer.step(call) ?? []);
}
