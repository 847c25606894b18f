import { toJson } from './json.ts';
import type { CloseUpRecord, RecordsStore, RunRecord, TileRecord } from './types.ts';

export interface CanonicalOptions {
  /** Times counted from the run's beginning; off for clocks that are real. */
  readonly times?: boolean;
  /** What was told while it ran; a resumed night tells more than one that was not broken off. */
  readonly events?: boolean;
}

/** JSON with the keys of every object in order of the alphabet; a plain recursion, for a night has millions of points. */
function canonicalJson(value: unknown): string {
  if (Array.isArray(value)) return `[${value.map(canonicalJson).join(',')}]`;
  if (value === null || typeof value !== 'object') return toJson(value);
  let text = '';
  for (const key of Object.keys(value).sort()) {
    const each: unknown = Reflect.get(value, key);
    if (each !== undefined) text += `${text === '' ? '' : ','}${JSON.stringify(key)}:${canonicalJson(each)}`;
  }
  return `{${text}}`;
}

function line(kind: string, value: unknown): string {
  return `${kind} ${canonicalJson(value)}`;
}

/** What one run's records say, line by line, in an order that does not depend on when or by whom they were written. */
class Dump {
  private readonly lines: string[] = [];
  private readonly hashes: ReadonlyMap<string, string>;
  private readonly records: RecordsStore;
  private readonly run: RunRecord;
  private readonly times: boolean;

  constructor(records: RecordsStore, run: RunRecord, times: boolean) {
    this.records = records;
    this.run = run;
    this.times = times;
    this.hashes = new Map(records.storedFiles(run.id).map((file) => [file.file, file.sha256]));
  }

  private short(file: string): string {
    return file.replace(`runs/${this.run.id}/`, '');
  }

  /** A file by its name inside the run's folder and its content. */
  private file(file: string | undefined): object {
    return file === undefined ? {} : { file: this.short(file), sha256: this.hashes.get(file) ?? 'none' };
  }

  private at(atMs: number): object {
    return this.times ? { afterMs: atMs - this.run.createdAtMs } : {};
  }

  private tile({ takenAtMs, pictureFile, ...rest }: TileRecord): void {
    this.lines.push(line('tile', { ...rest, ...this.at(takenAtMs), picture: this.file(pictureFile) }));
  }

  head(): void {
    const { title, runSheetText, instrumentText, plan, state } = this.run;
    this.lines.push(line('run', { title, runSheetText, instrumentText, plan, state }));
    const chips = [...this.records.chips(this.run.id)].sort((a, b) => (a.chip < b.chip ? -1 : 1));
    for (const chip of chips) this.lines.push(line('chip', chip));
  }

  results(): void {
    for (const tile of this.records.tiles(this.run.id)) this.tile(tile);
    const flakes = [...this.records.flakes(this.run.id)].sort((a, b) => (a.id < b.id ? -1 : 1));
    for (const flake of flakes) {
      this.lines.push(line('flake', flake));
      const crop = this.records.crop(this.run.id, flake.id);
      if (crop) this.lines.push(line('crop', { ...crop, ...this.file(crop.file) }));
    }
  }

  /** What people said of the flakes, those who took it back too. */
  verdicts(): void {
    for (const { seq: _, atMs, withdrawnAtMs, ...rest } of this.records.verdicts(this.run.id)) {
      this.lines.push(line('verdict', { ...rest, ...this.at(atMs), withdrawn: withdrawnAtMs === undefined ? false : { ...this.at(withdrawnAtMs) } }));
    }
  }

  /** Flakes looked at again, pictures by their content. */
  closeUps(): void {
    for (const closeUp of this.records.closeUps(this.run.id)) this.closeUp(closeUp);
  }

  private closeUp({ takenAtMs, tookMs, ...rest }: CloseUpRecord): void {
    const times = this.times ? { ...this.at(takenAtMs), tookMs } : {};
    const pictures = rest.outcome === 'done' ? { picture: { ...rest.picture, ...this.file(rest.picture.file), raw: this.file(rest.picture.rawFile), rawFile: '' } } : {};
    this.lines.push(line('closeUp', { ...rest, ...pictures, ...times }));
  }

  /** Visits to the known flake, and what people judged for the second time. */
  constancy(): void {
    for (const { takenAtMs, ...rest } of this.records.knownFlake(this.run.id)) this.lines.push(line('knownFlake', { ...rest, ...this.at(takenAtMs) }));
    for (const { seq: _, firstSeq: __, atMs, withdrawnAtMs, first, ...rest } of this.records.secondVerdicts(this.run.id)) {
      this.lines.push(line('secondVerdict', { ...rest, first: first.layers, ...this.at(atMs), withdrawn: withdrawnAtMs !== undefined }));
    }
  }

  files(): void {
    for (const [file, hash] of this.hashes) this.lines.push(line('file', { file: this.short(file), sha256: hash }));
  }

  story(): void {
    for (const { atMs, ...rest } of this.records.transitions(this.run.id)) this.lines.push(line('state', { ...rest, ...this.at(atMs) }));
    for (const { atMs, ...rest } of this.records.events(this.run.id)) this.lines.push(line('event', { ...rest, ...this.at(atMs) }));
  }

  text(): string {
    return `${this.lines.join('\n')}\n`;
  }
}

/**
 * Everything that is recorded of a run as one stable text, pictures by their SHA-256, without the run's id, paths and times of day: two
 * nights are the same when these texts are. Empty for a run that is not there.
 */
export function canonicalDump(records: RecordsStore, runId: string, { times = false, events = true }: CanonicalOptions = {}): string {
  const run = records.run(runId);
  if (!run) return '';
  const dump = new Dump(records, run, times);
  dump.head();
  dump.results();
  dump.verdicts();
  dump.closeUps();
  dump.constancy();
  dump.files();
  if (events) dump.story();
  return dump.text();
}
