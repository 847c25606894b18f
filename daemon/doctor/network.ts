import type { InstrumentConfig } from '../config/index.ts';
import { bytes } from '../errors/index.ts';
import { chosenCamera } from '../instruments/survey.ts';
import { advice, cannotBeTold, ok, toMend, type Finding } from './finding.ts';
import type { Examined, Surroundings } from './surroundings.ts';

const BUFFER = 'network buffer';
const PACKETS = 'network packets';
const RMEM_MAX = '/proc/sys/net/core/rmem_max';
/** The right to packet sockets, whose buffers have no such bound: CAP_NET_RAW is number 13 of capabilities(7), linux/capability.h. */
const CAP_NET_RAW = 13n;
const MIB = 1 << 20;
/** Below this a frame travels in many small packets; jumbo frames have 9,000 bytes (common practice, no source). */
const LARGE_MTU = 8000;

type CameraConfig = InstrumentConfig['camera'];

/** Whether frames come over the network. Not known before the camera has answered, unless it is named by its address. */
function isOnNetwork({ instrument, cameras }: Examined): 'yes' | 'perhaps' | 'no' {
  const genicam = instrument?.camera.genicam;
  if (!genicam) return 'no';
  if (genicam.address !== undefined) return 'yes';
  const camera = cameras.kind === 'cameras' ? chosenCamera(cameras.cameras, genicam) : undefined;
  if (!camera) return 'perhaps';
  return camera.protocol === 'GigEVision' ? 'yes' : 'no';
}

/** Bytes of one frame on the wire: three samples a pixel for RGB, and for a format that the camera is left to choose; two bytes a sample beyond 8 bits. */
export function frameBytes({ widthPx, heightPx, bits, genicam }: CameraConfig): number {
  const format = genicam?.pixelFormat ?? '';
  const samples = /^(Mono|Bayer)/i.test(format) ? 1 : 3;
  const sampleBits = Number(/\d+/.exec(format)?.[0] ?? bits);
  return widthPx * heightPx * samples * (sampleBits > 8 ? 2 : 1);
}

async function hasPacketSockets({ readText }: Surroundings): Promise<boolean> {
  const mask = /^CapEff:\s*([0-9a-f]+)$/im.exec((await readText('/proc/self/status')) ?? '')?.[1];
  return mask !== undefined && ((BigInt(`0x${mask}`) >> CAP_NET_RAW) & 1n) === 1n;
}

/** How to make room for one frame, now and after the next start. */
function widening(frame: number, nodePath: string): string {
  const setting = `net.core.rmem_max=${Math.ceil(frame / MIB) * MIB}`;
  return `sudo sysctl -w ${setting}, and to keep it: echo ${setting} | sudo tee /etc/sysctl.d/60-nightjar.conf; or sudo setcap cap_net_raw+ep ${nodePath}`;
}

/** Whether the system may keep a whole frame that arrives faster than it is read; where it may not, packets are lost. */
export async function checkNetworkBuffer(examined: Examined): Promise<readonly Finding[]> {
  const { surroundings, instrument } = examined;
  const isNetwork = isOnNetwork(examined);
  if (isNetwork === 'no' || !instrument) return [];
  if (await hasPacketSockets(surroundings)) return [ok(BUFFER, 'this process may use packet sockets, which need no larger buffer')];
  const frame = frameBytes(instrument.camera);
  const mend = widening(frame, surroundings.node.path);
  const most = Number((await surroundings.readText(RMEM_MAX))?.trim());
  if (!(most > 0)) return [cannotBeTold(BUFFER, `${RMEM_MAX} cannot be read; a frame has ${bytes(frame)}`, `on the computer itself: ${mend}`)];
  const seen = `${bytes(most)} at most, a frame of the camera has ${bytes(frame)}`;
  if (most >= frame) return [ok(BUFFER, seen)];
  return isNetwork === 'yes' ? [toMend(BUFFER, `${seen}: packets will be lost`, mend)] : [advice(BUFFER, `${seen}: packets are lost if the camera is on the network`, mend)];
}

interface Wired {
  readonly name: string;
  readonly mtu: number;
}

/** Interfaces of real hardware that have a link and are not radio. */
async function wiredInterfaces({ list, readText, facts }: Surroundings): Promise<readonly Wired[]> {
  const names = (await list('/sys/class/net')) ?? [];
  const wired = names.map(async (name): Promise<readonly Wired[]> => {
    const at = `/sys/class/net/${name}`;
    const [state, mtu, hardware, radio] = await Promise.all([readText(`${at}/operstate`), readText(`${at}/mtu`), facts(`${at}/device`), facts(`${at}/wireless`)]);
    return hardware && !radio && state?.trim() === 'up' && Number(mtu) > 0 ? [{ name, mtu: Number(mtu) }] : [];
  });
  return (await Promise.all(wired)).flat();
}

/** Whether frames of a network camera may travel in large packets: two to three times as fast as in small ones, as measured. */
export async function checkNetworkPackets(examined: Examined): Promise<readonly Finding[]> {
  if (isOnNetwork(examined) === 'no') return [];
  const wired = await wiredInterfaces(examined.surroundings);
  const [first] = wired;
  if (!first) return [cannotBeTold(PACKETS, 'no wired network interface is up that the system tells of', 'ip link')];
  const seen = wired.map(({ name, mtu }) => `${name} carries ${mtu} bytes`).join(', ');
  if (wired.some(({ mtu }) => mtu >= LARGE_MTU)) return [ok(PACKETS, seen)];
  return [advice(PACKETS, `${seen}: frames come two to three times as fast in large packets`, `where camera and switch take them: sudo ip link set dev ${first.name} mtu 9000 (name the interface that the camera is on)`)];
}
