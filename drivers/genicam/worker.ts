import { parentPort } from 'node:worker_threads';
import { createSystemClock } from '../clock/systemClock.ts';
import { DriverError } from '../interfaces/index.ts';
import { findCameras } from './discovery.ts';
import { loadLibrary } from './library.ts';
import { NO_COUNTS, type OpenOptions, type Outcome, type Reply, type Request, type Task } from './messages.ts';
import { asDriverError, toProblem } from './problems.ts';
import { Session } from './session.ts';

// The thread in which the library's calls may block: one camera, one request after the other.

/** A camera lets go of a program that has died after 3 s without a heartbeat, as GigE Vision has it by default (from memory). */
const HEARTBEAT_MS = 3200;

const clock = createSystemClock();
let session: Session | undefined;

function send(reply: Reply): void {
  parentPort?.postMessage(reply);
}

function theSession(): Session {
  if (!session) throw new DriverError('closed', { device: 'camera' });
  return session;
}

/** Opens; when another program holds the camera, once more after the time in which a dead one is forgotten. */
async function open(options: OpenOptions): Promise<Outcome> {
  const begunAtMs = clock.now();
  const opening = new Session(loadLibrary(options.library), options, clock);
  try {
    const facts = opening.open();
    session = opening;
    return { kind: 'opened', facts };
  } catch (error) {
    if (!(error instanceof DriverError) || error.code !== 'cameraBusy') throw error;
  }
  await clock.sleep(Math.max(0, begunAtMs + HEARTBEAT_MS - clock.now()));
  const facts = opening.open();
  session = opening;
  return { kind: 'opened', facts };
}

async function carryOut(id: number, task: Task): Promise<Outcome> {
  switch (task.kind) {
    case 'open':
      return open(task.options);
    case 'configure':
      return { kind: 'configured', settings: theSession().configure(task.settings) };
    case 'snap':
      return { kind: 'frame', frame: theSession().snap(() => send({ id, exposed: true })) };
    case 'close':
      session?.close();
      session = undefined;
      return { kind: 'closed' };
    case 'list':
      return { kind: 'list', cameras: findCameras(loadLibrary(task.library)) };
  }
}

async function answer({ id, task }: Request): Promise<void> {
  const counters = () => session?.counters ?? NO_COUNTS;
  try {
    const outcome = await carryOut(id, task);
    send({ id, outcome, counters: counters() });
  } catch (error) {
    send({ id, problem: toProblem(asDriverError(error, () => false)), counters: counters() });
  }
  // Behind the answer: closing a lost camera can take seconds.
  session?.releaseLost();
  if (task.kind === 'close') parentPort?.close();
}

parentPort?.on('message', (request: Request) => void answer(request));
