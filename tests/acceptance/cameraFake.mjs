// Debian's fake GigE Vision camera for the scripts of this folder and of tests/bench: started, killed, held up, and given other features.
import { execFileSync, spawn } from 'node:child_process';
import { createSocket } from 'node:dgram';
import { once } from 'node:events';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import koffi from 'koffi';

const PROGRAM = 'arv-fake-gv-camera-0.8';
const built = (path) => new URL(`../../.build/drivers/${path}`, import.meta.url);

export const { openGenicamCamera, listCameras } = await import(built('genicam/index.js'));
export const { createSystemClock } = await import(built('clock/systemClock.js'));
export const clock = createSystemClock();
export const LOOPBACK = { address: '127.0.0.1' };

export const sleep = (ms) => new Promise((done) => setTimeout(done, ms));

/** Leaves with a plain sentence where the program is missing: there is nothing to try then. */
export function requireFakeCamera() {
  try {
    execFileSync(PROGRAM, ['--help'], { stdio: 'ignore' });
  } catch {
    console.log(`${PROGRAM} (Debian package aravis-tools) is not installed: nothing was tried.`);
    process.exit(0);
  }
}

/** The control port of GigE Vision (from memory; `ss -lunp` shows it): a second fake camera would open it too, and take the packets of the first. */
const CONTROL_PORT = 3956;

async function isPortFree() {
  const socket = createSocket('udp4');
  const free = once(socket, 'listening').then(() => true, () => false);
  socket.bind({ port: CONTROL_PORT, address: LOOPBACK.address, exclusive: true });
  if (!(await free)) return false;
  socket.close();
  return true;
}

async function freePort() {
  for (let tries = 0; tries < 60; tries++) {
    if (await isPortFree()) return;
    await sleep(500);
  }
  throw new Error(`UDP port ${CONTROL_PORT} is in use: another fake camera is running on this computer`);
}

const running = new Set();
process.on('exit', () => {
  for (const child of running) child.kill('SIGKILL');
});

/** One fake camera on loopback, ready when this resolves. `lostPerThousand`: packets that never arrive; `xml`: its features, from a file. */
export async function startFake(serial, { lostPerThousand = 0, xml } = {}) {
  await freePort();
  const args = ['-i', '127.0.0.1', '-s', serial, ...(lostPerThousand > 0 ? ['-r', String(lostPerThousand)] : []), ...(xml ? ['-g', xml] : [])];
  const child = spawn(PROGRAM, args, { stdio: 'ignore' });
  running.add(child);
  const ended = once(child, 'exit').then(() => running.delete(child));
  await sleep(300);
  if (child.exitCode !== null) throw new Error(`${PROGRAM} does not start: is another one running on this computer?`);
  return {
    pid: child.pid,
    hang: () => child.kill('SIGSTOP'),
    goOn: () => child.kill('SIGCONT'),
    async kill() {
      child.kill('SIGKILL');
      await ended;
    },
  };
}

/** A white balance of the running fake camera, seen and, with a value, set from outside, as its maker's program would. */
export function balanceOnFake(colour, value) {
  const library = koffi.load('libaravis-0.8.so.0');
  const camera = library.func('void *arv_camera_new(const char *name, void *error)')(LOOPBACK.address, null);
  library.func('void arv_camera_set_string(void *camera, const char *feature, const char *value, void *error)')(camera, 'BalanceRatioSelector', colour, null);
  if (value !== undefined) library.func('void arv_camera_set_float(void *camera, const char *feature, double value, void *error)')(camera, 'BalanceRatio', value, null);
  const seen = library.func('double arv_camera_get_float(void *camera, const char *feature, void *error)')(camera, 'BalanceRatio', null);
  library.func('void g_object_unref(void *object)')(camera);
  return seen;
}

/** The features that the running fake camera describes, as its XML text. */
export function featuresOfFake() {
  const library = koffi.load('libaravis-0.8.so.0');
  const camera = library.func('void *arv_camera_new(const char *name, void *error)')(LOOPBACK.address, null);
  const device = library.func('void *arv_camera_get_device(void *camera)')(camera);
  const bytes = [0];
  const xml = koffi.decode.string(library.func('void *arv_device_get_genicam_xml(void *device, _Out_ size_t *size)')(device, bytes), bytes[0]);
  library.func('void g_object_unref(void *object)')(camera);
  return xml;
}

const register = (name, address) => `<IntReg Name="${name}"><Address>${address}</Address><Length>4</Length><AccessMode>RW</AccessMode><pPort>Device</pPort><Sign>Unsigned</Sign><Endianess>BigEndian</Endianess></IntReg>`;
const choice = (name, value) => `<Enumeration Name="${name}"><EnumEntry Name="Off"><Value>0</Value></EnumEntry><EnumEntry Name="Continuous"><Value>2</Value></EnumEntry>${value}</Enumeration>`;

/** Features of our own invention in free registers of the fake: each can be switched off, and is on at first. */
export const SWITCHABLE = [
  choice('ExposureAuto', '<pValue>ExposureAutoRegister</pValue>'), register('ExposureAutoRegister', '0x1f0'),
  choice('BalanceWhiteAuto', '<pValue>BalanceWhiteAutoRegister</pValue>'), register('BalanceWhiteAutoRegister', '0x400'),
  '<Boolean Name="LUTEnable"><pValue>LutRegister</pValue><OnValue>0</OnValue><OffValue>1</OffValue></Boolean>', register('LutRegister', '0x404'),
  '<Float Name="Gamma"><pValue>GammaConverter</pValue><Min>0.25</Min><Max>4</Max></Float>',
  '<Converter Name="GammaConverter"><FormulaTo>FROM*1000</FormulaTo><FormulaFrom>TO/1000</FormulaFrom><pValue>GammaRegister</pValue></Converter>', register('GammaRegister', '0x408'),
  '<Enumeration Name="BalanceRatioSelector"><EnumEntry Name="Red"><Value>0</Value></EnumEntry><EnumEntry Name="Green"><Value>1</Value></EnumEntry><EnumEntry Name="Blue"><Value>2</Value></EnumEntry><pValue>BalanceIndex</pValue></Enumeration>',
  '<Integer Name="BalanceIndex"><Value>0</Value></Integer>',
  '<Float Name="BalanceRatio"><pValue>BalanceConverter</pValue><Min>0</Min><Max>8</Max></Float>',
  '<Converter Name="BalanceConverter"><FormulaTo>FROM*1000</FormulaTo><FormulaFrom>TO/1000</FormulaFrom><pValue>BalanceRegister</pValue></Converter>',
  register('BalanceRegister', '0x420').replace('<Length>', '<pIndex Offset="4">BalanceIndex</pIndex><Length>'),
  '<Integer Name="NoiseReduction"><pValue>NoiseRegister</pValue><Min>0</Min><Max>5</Max></Integer>', register('NoiseRegister', '0x40c'),
].join('\n');

/** A gamma that stands at 2.2 and takes no other value. */
export const STUBBORN = '<Float Name="Gamma"><pValue>GammaConverter</pValue><Min>0.25</Min><Max>4</Max></Float>\n<SwissKnife Name="GammaConverter"><Formula>2.2</Formula></SwissKnife>';

/** Writes the fake's features with others added, and columns in steps of 16 px at multiples of 8, to a file. */
export function writeFeatures(xml, name, added) {
  const folder = mkdtempSync(join(tmpdir(), 'nightjar-camera-'));
  process.on('exit', () => rmSync(folder, { recursive: true, force: true }));
  const stepped = xml
    .replace(/(<Integer Name="Width"[^]*?<Inc>)1(<\/Inc>)/, (_all, before, after) => `${before}16${after}`)
    .replace(/(<Integer Name="OffsetX"[^]*?<Inc>)1(<\/Inc>)/, (_all, before, after) => `${before}8${after}`);
  const file = join(folder, `${name}.xml`);
  writeFileSync(file, stepped.replace('</RegisterDescription>', `${added}\n</RegisterDescription>`));
  return file;
}

/** The longest that this thread did not come round while `work` ran, in ms: a library call in it would show. */
export async function stallDuring(work) {
  let worst = 0;
  let last = performance.now();
  const beat = setInterval(() => {
    const now = performance.now();
    worst = Math.max(worst, now - last);
    last = now;
  }, 10);
  try {
    return { result: await work(), stallMs: () => worst };
  } finally {
    clearInterval(beat);
  }
}
