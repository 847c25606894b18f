import { openDescribed, type DescribedParts } from '../../drivers/described/index.ts';
import { DriverError, type Clock } from '../../drivers/interfaces/index.ts';
import type { OpenWire } from '../../drivers/line/wire.ts';
import type { InstrumentConfig } from '../config/instrument.ts';
import { openerFor, type LineAddress } from '../describe/lineFrom.ts';
import { parseDescription } from '../describe/readDescription.ts';
import { allClosed, type Devices, type RealDevices } from './devices.ts';
import { openGcode } from './openGcode.ts';

type LineConfig = InstrumentConfig['lines'][string];
type Controlled = 'stage' | 'focus' | 'turret' | 'lamp' | 'fieldStop';

/** Which devices of the instrument are behind which line. */
interface LineUse {
  readonly line: string;
  readonly driver: string;
  readonly devices: readonly Controlled[];
}

function usesOfLines({ stage, focus, turret, lamp }: InstrumentConfig): readonly LineUse[] {
  const named = { stage, focus, turret, lamp, fieldStop: focus.fieldStop };
  const lines = new Map<string, { driver: string; devices: Controlled[] }>();
  for (const device of ['stage', 'focus', 'turret', 'lamp', 'fieldStop'] as const) {
    const { line, driver } = named[device] ?? {};
    if (line === undefined || driver === undefined) continue;
    const use = lines.get(line) ?? { driver, devices: [] };
    lines.set(line, { ...use, devices: [...use.devices, device] });
  }
  return [...lines].map(([line, use]) => ({ line, ...use }));
}

/** Where a line of the instrument file is to be found. Throws `noSuchLine` for one without an end, which the file's check refuses. */
function addressOf({ serial, tcp }: LineConfig): LineAddress {
  if (serial) return { kind: 'serial', ...serial };
  if (tcp) return { kind: 'tcp', host: tcp.host, tcpPort: tcp.port };
  throw new DriverError('noSuchLine', { what: 'neither serial nor tcp' });
}

/** Opens each line once, with all devices behind it. Rejects with what the drivers say, and closes what was opened. */
export async function openControllers(config: InstrumentConfig, clock: Clock): Promise<RealDevices> {
  const opened: RealDevices[] = [];
  // Each whatever becomes of the others: a lamp that would not go off must not keep the stage's line.
  const close = (): Promise<void> => allClosed(opened.splice(0).map((each) => each.close()));
  try {
    for (const use of usesOfLines(config)) opened.push(await openLine(use, config, clock));
  } catch (error) {
    await close().catch(() => undefined);
    throw error;
  }
  return { devices: Object.assign({}, ...opened.map(({ devices }) => devices)) as Partial<Devices>, counters: () => Object.assign({}, ...opened.map((each) => each.counters())) as Record<string, object>, close };
}

async function openLine(use: LineUse, config: InstrumentConfig, clock: Clock): Promise<RealDevices> {
  const line = config.lines[use.line];
  if (!line) throw new DriverError('noSuchLine', { line: use.line });
  const openWire = openerFor(addressOf(line), clock);
  return use.driver === 'gcode' ? openGcode(use.line, config, openWire, clock) : openByDescription(use, line, openWire, clock);
}

async function openByDescription({ line: name, devices }: LineUse, { deviceFile = '' }: LineConfig, openWire: OpenWire, clock: Clock): Promise<RealDevices> {
  const { plan } = parseDescription({ text: deviceFile, file: `device file of line ${name}` });
  const missing = devices.find((device) => !plan.parts[device]);
  if (missing !== undefined) throw new DriverError('unsupported', { line: name, what: `its device file describes no ${missing}` });
  const device = await openDescribed(plan, { openWire, clock, use: devices });
  return { devices: pick(device.parts, devices), counters: () => ({}), close: () => device.close() };
}

function pick(parts: DescribedParts, wanted: readonly Controlled[]): Partial<Devices> {
  return Object.fromEntries(wanted.map((name) => [name, parts[name]]));
}
