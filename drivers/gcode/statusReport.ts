/** What the controller says it is doing. A number behind a colon, as in `Hold:0`, is kept apart. */
export type ControllerState = 'Idle' | 'Run' | 'Jog' | 'Hold' | 'Alarm' | 'Door' | 'Check' | 'Home' | 'Sleep' | 'Tool';

/** A status report that could be read without doubt. Positions in mm, one number an axis, in the order X, Y, Z, ... */
export interface StatusReport {
  readonly state: ControllerState;
  /** `Hold:0` stands, `Hold:1` is still slowing down. */
  readonly subState: number | undefined;
  /** Whether `positionMm` counts from the machine's zero, or from that of the work offset. */
  readonly isMachine: boolean;
  readonly positionMm: readonly number[];
  /** Machine position less work position; told now and then. */
  readonly workOffsetMm: readonly number[] | undefined;
  /** Letters of the pins that are active: X, Y, Z are limit switches. */
  readonly pins: string;
}

const STATES: ReadonlySet<string> = new Set<ControllerState>(['Idle', 'Run', 'Jog', 'Hold', 'Alarm', 'Door', 'Check', 'Home', 'Sleep', 'Tool']);
const isState = (name: string): name is ControllerState => STATES.has(name);
/** Three axes and up to three more; three decimals, as the firmware prints mm. */
const POSITION = /^-?\d{1,5}\.\d{3}(,-?\d{1,5}\.\d{3}){2,5}$/;
const FIELD = /^[A-Za-z]{1,8}:[!-{}~]*$/;

interface Fields {
  readonly machine?: readonly number[];
  readonly work?: readonly number[];
  readonly offset?: readonly number[];
  readonly pins?: string;
}

function numbers(text: string): readonly number[] | undefined {
  return POSITION.test(text) ? text.split(',').map(Number) : undefined;
}

/** Takes one field in; `undefined` when it cannot be what it seems to be. */
function withField(fields: Fields, field: string): Fields | undefined {
  if (!FIELD.test(field)) return undefined;
  const colon = field.indexOf(':');
  const [name, value] = [field.slice(0, colon), field.slice(colon + 1)];
  if (name === 'Pn') return { ...fields, pins: value };
  if (name !== 'MPos' && name !== 'WPos' && name !== 'WCO') return fields;
  const values = numbers(value);
  if (values === undefined) return undefined;
  if (name === 'WCO') return { ...fields, offset: values };
  if (fields.machine ?? fields.work) return undefined;
  return name === 'MPos' ? { ...fields, machine: values } : { ...fields, work: values };
}

function stateOf(text: string): Pick<StatusReport, 'state' | 'subState'> | undefined {
  const [, name = '', number] = /^([A-Z][a-z]+)(?::(\d{1,2}))?$/.exec(text) ?? [];
  return isState(name) ? { state: name, subState: number === undefined ? undefined : Number(number) } : undefined;
}

/**
 * Reads the answer to `?`, as the documentation of the open-source firmware grbl 1.1 ("real-time status reports"; from memory) describes it:
 * `<Idle|MPos:0.000,0.000,0.000|FS:0,0|WCO:0.000,0.000,0.000>`. There is no checksum, so that reading is strict: one character out of place, and
 * the report is none (`undefined`). Fields of other names are let pass.
 */
export function parseStatus(line: string): StatusReport | undefined {
  if (!line.startsWith('<') || !line.endsWith('>')) return undefined;
  const [head = '', ...rest] = line.slice(1, -1).split('|');
  const state = stateOf(head);
  let fields: Fields | undefined = {};
  for (const field of rest) {
    fields = withField(fields, field);
    if (fields === undefined) return undefined;
  }
  const positionMm = fields.machine ?? fields.work;
  if (state === undefined || positionMm === undefined) return undefined;
  if (fields.offset !== undefined && fields.offset.length !== positionMm.length) return undefined;
  return { ...state, isMachine: fields.machine !== undefined, positionMm, workOffsetMm: fields.offset, pins: fields.pins ?? '' };
}
