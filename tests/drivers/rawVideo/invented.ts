import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createSystemClock } from '../../../drivers/clock/systemClock.ts';
import { openRawVideoCamera, type RawVideoOptions } from '../../../drivers/rawVideo/index.ts';
import type { Camera } from '../../../drivers/interfaces/index.ts';

/** A program that writes frames as raw video: plain bytes, rows from the top, nothing in between (`-f rawvideo`, from memory). */
const program = `
import { appendFileSync, existsSync } from 'node:fs';
const [diary, width, height, samples, frameMs, most, manner] = process.argv.slice(2);
const last = manner === 'once' && existsSync(diary) ? 0 : Number(most);
appendFileSync(diary, 'start ' + process.pid + '\\n');
const bytes = width * height * samples;
let n = 0;
const send = () => {
  if (n >= last) return;
  n++;
  // Each frame is filled with its number, so that a torn or old one shows.
  const frame = Buffer.alloc(bytes, n % 256);
  if (manner === 'pieces') for (let i = 0; i < bytes; i += 7) process.stdout.write(frame.subarray(i, i + 7));
  else process.stdout.write(frame);
};
process.stderr.write('invented camera ready\\n');
if (manner === 'stubborn') process.on('SIGTERM', () => undefined);
if (manner === 'half') process.stdout.write(Buffer.alloc(Math.floor(bytes / 2)));
if (manner === 'burst') { for (let i = 0; i < 20; i++) send(); }
const timer = setInterval(() => {
  send();
  if (n >= last && manner !== 'hang') { clearInterval(timer); process.stderr.write('lamp of the camera is out'); process.exitCode = 3; }
}, Number(frameMs));
`;

export interface Invented {
  readonly widthPx?: number;
  readonly heightPx?: number;
  readonly pixelFormat?: 'mono8' | 'rgb8';
  readonly frameMs?: number;
  readonly exposureMs?: number;
  readonly discardFrames?: number;
  /** The command ends after so many frames. */
  readonly last?: number;
  /** once: no frame from the second start on. */
  readonly manner?: 'plain' | 'pieces' | 'stubborn' | 'half' | 'burst' | 'hang' | 'once';
}

/** Invented commands in a folder of their own, and the cameras behind them; `clear` closes and removes all. */
export class InventedCommands {
  readonly clock = createSystemClock();
  #folder: string | undefined;
  #diaries = 0;
  readonly #open: Camera[] = [];

  async options(wish: Invented = {}): Promise<RawVideoOptions & { readonly diary: string }> {
    const { widthPx = 32, heightPx = 24, pixelFormat = 'mono8', frameMs = 20, exposureMs = 10, last = 1e9, manner = 'plain' } = wish;
    this.#folder ??= await mkdtemp(join(tmpdir(), 'nightjar-raw-video-'));
    const script = join(this.#folder, 'camera.mjs');
    await writeFile(script, program);
    const diary = join(this.#folder, `diary-${this.#diaries++}`);
    const samples = pixelFormat === 'rgb8' ? 3 : 1;
    const command = [process.execPath, script, diary, ...[widthPx, heightPx, samples, frameMs, last].map(String), manner];
    const discard = wish.discardFrames === undefined ? {} : { discardFrames: wish.discardFrames };
    return { command, widthPx, heightPx, pixelFormat, exposureMs, frameMs, ...discard, diary };
  }

  async open(wish: Invented = {}, clock = this.clock): Promise<{ readonly camera: Camera; readonly diary: string }> {
    const { diary, ...options } = await this.options(wish);
    const camera = await openRawVideoCamera(options, clock);
    this.#open.push(camera);
    return { camera, diary };
  }

  /** Process ids of every start of this command. */
  async starts(diary: string): Promise<readonly number[]> {
    return (await readFile(diary, 'utf8')).trim().split('\n').map((line) => Number(line.replace('start ', '')));
  }

  /** Waits until the last start of this command has ended, and its end was heard of. */
  async ended(diary: string): Promise<void> {
    const pid = (await this.starts(diary)).at(-1) ?? 0;
    while (runs(pid)) await this.clock.sleep(20);
    await this.clock.sleep(50);
  }

  async clear(): Promise<void> {
    await Promise.all(this.#open.splice(0).map((camera) => camera.close()));
    if (this.#folder !== undefined) await rm(this.#folder, { recursive: true, force: true });
    this.#folder = undefined;
  }
}

/** Whether this process still runs. */
export function runs(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch {
    return false;
  }
}
