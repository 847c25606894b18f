import { NightjarError } from '../errors/index.ts';
import { twinFaults, type OpenTwin } from '../instrument/open.ts';

/** A fault that is to befall the twin, and when. */
export interface FaultWish {
  readonly name: string;
  readonly sentence: string;
  /** As soon as so many tiles are done or left out. */
  atTile(tiles: number): number;
  strike(twin: OpenTwin): void;
}

type Kind = keyof typeof twinFaults;
const isKind = (text: string): text is Kind => Object.hasOwn(twinFaults, text);

/** Every fault by name with what it does; those of a device as `unplug:stage`. */
export function faultList(): readonly { readonly name: string; readonly sentence: string }[] {
  return Object.entries(twinFaults).map(([kind, { sentence, devices }]) => ({ name: devices ? `${kind}:DEVICE` : kind, sentence: devices ? `${sentence} (${devices.join(', ')})` : sentence }));
}

function when(text: string | undefined): FaultWish['atTile'] {
  if (text === undefined) return (tiles) => Math.floor(tiles / 2);
  const share = /^(\d+(?:\.\d+)?)%$/.exec(text)?.[1];
  if (share !== undefined && Number(share) <= 100) return (tiles) => Math.floor((tiles * Number(share)) / 100);
  if (/^0?\.\d+$/.test(text)) return (tiles) => Math.floor(tiles * Number(text));
  if (/^\d+$/.test(text)) return (tiles) => Math.min(tiles, Number(text));
  throw new NightjarError('badUsage', { reason: `--fault ...@${text}: a number of tiles (@12) or a share of the night (@50%, @0.5) is wanted` });
}

/** Reads `NAME`, `NAME@TILE`, `NAME@SHARE`; in the middle of the night where nothing is said. Throws `badUsage`. */
export function parseFault(text: string): FaultWish {
  const [name = '', at] = text.split('@');
  const [kind = '', deviceName] = name.split(':');
  if (!isKind(kind)) throw new NightjarError('badUsage', { reason: `--fault ${name}: there is no such fault; \`nightjar rehearse --faults\` lists them` });
  const { sentence, devices, strike } = twinFaults[kind];
  const device = devices?.find((each) => each === deviceName);
  if (devices ? device === undefined : deviceName !== undefined) throw new NightjarError('badUsage', { reason: `--fault ${name}: ${devices ? `say of which device, as ${kind}:${devices[0] ?? ''}` : 'this fault is of no one device'}` });
  return { name, sentence, atTile: when(at), strike: ({ faults }) => strike(faults, device ?? 'stage') };
}
