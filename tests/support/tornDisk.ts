import { dirname, join, sep } from 'node:path';
import type { DurableFiles, OpenFile } from '../../daemon/records/durableFiles.ts';

/**
 * A disk as it may be found after a power cut. It promises no more than POSIX does and less than most file systems give:
 * - What was written to a file and not synced may be on the disk, page by page, in any order, wholly, by halves or not at all; so may its length.
 * - A name that was made, replaced or removed, and whose folder was not synced, may be as it was before or as it was at any time since;
 *   each name for itself, so that a rename may lose both names or keep both.
 * - Syncing a file says nothing of the names that lead to it; syncing a folder says nothing of the files in it.
 * Sources (from memory): Pillai and others, "All File Systems Are Not Created Equal: On the Complexity of Crafting Crash-Consistent
 * Applications", OSDI 2014; "How SQLite Is Tested", section on crash testing, sqlite.org.
 * Not in the model: a page that was written more than once since the last sync has only its last content and that of the sync.
 */
interface FileNode {
  readonly kind: 'file';
  durable: Uint8Array;
  present: Uint8Array;
  /** Pages written since the last sync. */
  readonly dirty: Set<number>;
}
interface FolderNode {
  readonly kind: 'folder';
  readonly names: Map<string, Node | undefined>;
  /** What each name was at the last sync and at all times since; left out when only its present value is possible. */
  readonly since: Map<string, (Node | undefined)[]>;
}
type Node = FileNode | FolderNode;

/** Chooses one of so many. */
export type Choose = (count: number) => number;

const newFolder = (): FolderNode => ({ kind: 'folder', names: new Map(), since: new Map() });

export class TornDisk implements DurableFiles {
  private readonly root = newFolder();
  private readonly pageBytes: number;

  /** @param pageBytes what a disk writes at once; small ones make small files have many */
  constructor(pageBytes = 4096) {
    this.pageBytes = pageBytes;
  }

  open(path: string, flags: 'w' | 'r'): Promise<OpenFile> {
    return Promise.resolve().then(() => {
      if (flags === 'w') this.create(path, true);
      let at = 0;
      return {
        writeFile: async (bytes: Uint8Array) => {
          await Promise.resolve();
          this.write(path, at, bytes);
          at += bytes.length;
        },
        sync: async () => {
          await Promise.resolve();
          this.sync(path);
        },
        close: () => Promise.resolve(),
      };
    });
  }

  exists(path: string): Promise<boolean> {
    return Promise.resolve(this.find(path) !== undefined);
  }

  makeFolder(path: string): Promise<void> {
    return Promise.resolve().then(() => this.folder(path));
  }

  rename(from: string, to: string): Promise<void> {
    return Promise.resolve().then(() => this.move(from, to));
  }

  remove(path: string): Promise<void> {
    return Promise.resolve().then(() => this.unlink(path));
  }

  /** One folder; nothing when it is there. */
  folder(path: string): void {
    if (this.find(path) === undefined) this.name(path, newFolder());
  }

  create(path: string, empties: boolean): void {
    const node = this.find(path);
    if (node === undefined) this.name(path, { kind: 'file', durable: new Uint8Array(0), present: new Uint8Array(0), dirty: new Set() });
    else if (empties) this.truncate(path, 0);
  }

  size(path: string): number {
    return this.file(path).present.length;
  }

  write(path: string, at: number, bytes: Uint8Array): void {
    const file = this.file(path);
    const length = Math.max(file.present.length, at + bytes.length);
    file.present = roomFor(file, length);
    file.present.set(bytes, at);
    for (let page = Math.floor(at / this.pageBytes); page * this.pageBytes < at + bytes.length; page++) file.dirty.add(page);
  }

  truncate(path: string, bytes: number): void {
    const file = this.file(path);
    const present = new Uint8Array(bytes);
    present.set(file.present.subarray(0, bytes));
    file.present = present;
  }

  sync(path: string): void {
    const node = this.find(path);
    if (node === undefined) throw new Error(`${path} is not there`);
    if (node.kind === 'folder') return node.since.clear();
    node.durable = node.present;
    node.dirty.clear();
  }

  move(from: string, to: string): void {
    const node = this.find(from);
    if (node === undefined) throw new Error(`${from} is not there`);
    this.name(to, node);
    this.name(from, undefined);
  }

  unlink(path: string): void {
    if (this.find(path) !== undefined) this.name(path, undefined);
  }

  /** Everything that reading this file may give after a power cut now: its bytes in hexadecimal, or "absent". */
  outcomesOf(path: string): ReadonlySet<string> {
    let nodes: (Node | undefined)[] = [this.root];
    for (const part of parts(path)) nodes = nodes.flatMap((node) => (node?.kind === 'folder' ? possible(node, part) : [undefined]));
    return new Set(nodes.flatMap((node) => (node?.kind === 'file' ? this.contents(node) : ['absent'])));
  }

  /** One disk that a power cut now may leave: whole contents by path. */
  afterPowerCut(choose: Choose): ReadonlyMap<string, Uint8Array> {
    const found = new Map<string, Uint8Array>();
    const visit = (folder: FolderNode, path: string): void => {
      for (const name of folder.names.keys()) {
        const values = possible(folder, name);
        const node = values[choose(values.length)];
        if (node?.kind === 'folder') visit(node, join(path, name));
        else if (node) found.set(join(path, name), this.torn(node, choose));
      }
    };
    visit(this.root, sep);
    return found;
  }

  private torn(file: FileNode, choose: Choose): Uint8Array {
    const { durable, present, dirty } = file;
    if (dirty.size === 0 && durable.length === present.length) return present;
    const length = [durable.length, present.length, Math.min(durable.length, present.length) + choose(Math.abs(durable.length - present.length) + 1)][choose(3)] ?? 0;
    const disk = new Uint8Array(length);
    disk.set(durable.subarray(0, length));
    for (const page of dirty) {
      const begin = page * this.pageBytes;
      const reaches = [0, this.pageBytes, choose(this.pageBytes)][choose(3)] ?? 0;
      const part = present.subarray(begin, Math.min(begin + reaches, length));
      if (begin < length) disk.set(part, begin);
    }
    return disk;
  }

  /** Every content that pages old, new or half written, and either length, can make. */
  private contents({ durable, present, dirty }: FileNode): string[] {
    const lengths = [...new Set([durable.length, present.length])];
    return lengths.flatMap((length) => {
      let disks = [new Uint8Array(length)];
      disks[0]?.set(durable.subarray(0, length));
      for (const page of [...dirty].filter((each) => each * this.pageBytes < length)) {
        const begin = page * this.pageBytes;
        disks = disks.flatMap((disk) =>
          [0, this.pageBytes / 2, this.pageBytes].map((reaches) => {
            const next = disk.slice();
            next.set(present.subarray(begin, Math.min(begin + reaches, length)), begin);
            return next;
          }),
        );
      }
      return disks.map((disk) => Buffer.from(disk).toString('hex'));
    });
  }

  private find(path: string): Node | undefined {
    let node: Node | undefined = this.root;
    for (const part of parts(path)) node = node?.kind === 'folder' ? node.names.get(part) : undefined;
    return node;
  }

  private file(path: string): FileNode {
    const node = this.find(path);
    if (node?.kind !== 'file') throw new Error(`${path} is no file`);
    return node;
  }

  private name(path: string, node: Node | undefined): void {
    const folder = this.find(dirname(path));
    const [name] = parts(path).slice(-1);
    if (folder?.kind !== 'folder' || name === undefined) throw new Error(`${dirname(path)} is no folder`);
    folder.since.set(name, [...possible(folder, name), node]);
    folder.names.set(name, node);
  }
}

/** The present content at another length, in memory that the content of the last sync does not share. */
function roomFor({ present, durable }: FileNode, length: number): Uint8Array {
  if (present.buffer !== durable.buffer && present.buffer.byteLength >= length) return new Uint8Array(present.buffer, 0, length);
  const room = new Uint8Array(2 * length);
  room.set(present);
  return room.subarray(0, length);
}

const parts = (path: string): string[] => path.split(sep).filter((part) => part !== '');

function possible(folder: FolderNode, name: string): (Node | undefined)[] {
  return folder.since.get(name) ?? [folder.names.get(name)];
}
