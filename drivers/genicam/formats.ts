import { DriverError, type BayerPattern, type PixelFormat } from '../interfaces/index.ts';

/** How the samples of one wire format are laid out: whole bytes with the lowest first, or twelve bits each in the two ways there are. */
export type Packing = 'plain' | '12p' | '12Packed';

/** A pixel format as cameras name it, and what it becomes in a frame. */
export interface WireFormat {
  /** The name in the standard's list, as it stands in the instrument file. */
  readonly name: string;
  /** The standard's 32-bit code: bits 16 to 23 are the bits that one pixel takes on the wire. */
  readonly code: number;
  readonly pixelFormat: PixelFormat;
  /** Significant bits of a sample. */
  readonly bits: number;
  readonly packing: Packing;
}

function plain(name: string, code: number, pixelFormat: PixelFormat, bits: number): WireFormat {
  return { name, code, pixelFormat, bits, packing: 'plain' };
}

interface BayerCodes {
  readonly pattern: BayerPattern;
  readonly plain8: number;
  readonly plain10: number;
  readonly plain12: number;
  readonly plain16: number;
  readonly p12: number;
  readonly packed12: number;
}

const bayerCodes: readonly BayerCodes[] = [
  { pattern: 'RG', plain8: 0x01080009, plain10: 0x0110000d, plain12: 0x01100011, plain16: 0x0110002f, p12: 0x010c0059, packed12: 0x010c002b },
  { pattern: 'GR', plain8: 0x01080008, plain10: 0x0110000c, plain12: 0x01100010, plain16: 0x0110002e, p12: 0x010c0057, packed12: 0x010c002a },
  { pattern: 'GB', plain8: 0x0108000a, plain10: 0x0110000e, plain12: 0x01100012, plain16: 0x01100030, p12: 0x010c0055, packed12: 0x010c002c },
  { pattern: 'BG', plain8: 0x0108000b, plain10: 0x0110000f, plain12: 0x01100013, plain16: 0x01100031, p12: 0x010c0053, packed12: 0x010c002d },
];

function bayerFormats(codes: BayerCodes): readonly WireFormat[] {
  const { pattern } = codes;
  const name = `Bayer${pattern}`;
  return [
    plain(`${name}8`, codes.plain8, `bayer${pattern}8`, 8),
    plain(`${name}10`, codes.plain10, `bayer${pattern}16`, 10),
    plain(`${name}12`, codes.plain12, `bayer${pattern}16`, 12),
    plain(`${name}16`, codes.plain16, `bayer${pattern}16`, 16),
    { name: `${name}12p`, code: codes.p12, pixelFormat: `bayer${pattern}16`, bits: 12, packing: '12p' },
    { name: `${name}12Packed`, code: codes.packed12, pixelFormat: `bayer${pattern}16`, bits: 12, packing: '12Packed' },
  ];
}

/**
 * Names and codes of the Pixel Format Naming Convention, as the library's header arvenums.h has them (there under older spellings);
 * Mono12p and RGB16, which it lacks, from memory. In order of preference: the first that a camera offers is taken when none is asked for.
 */
export const wireFormats: readonly WireFormat[] = [
  plain('RGB8', 0x02180014, 'rgb8', 8),
  ...bayerCodes.flatMap(bayerFormats),
  plain('Mono8', 0x01080001, 'mono8', 8),
  plain('Mono10', 0x01100003, 'mono16', 10),
  plain('Mono12', 0x01100005, 'mono16', 12),
  plain('Mono14', 0x01100025, 'mono16', 14),
  plain('Mono16', 0x01100007, 'mono16', 16),
  { name: 'Mono12p', code: 0x010c0047, pixelFormat: 'mono16', bits: 12, packing: '12p' },
  { name: 'Mono12Packed', code: 0x010c0006, pixelFormat: 'mono16', bits: 12, packing: '12Packed' },
  plain('RGB10', 0x02300018, 'rgb16', 10),
  plain('RGB12', 0x0230001a, 'rgb16', 12),
  plain('RGB16', 0x02300033, 'rgb16', 16),
];

/** Undefined for formats that Nightjar cannot read. */
export function formatOfCode(code: number): WireFormat | undefined {
  return wireFormats.find((format) => format.code === code);
}

/**
 * The format to set: the one asked for by its name, else the first of our list that is offered.
 * Throws `formatNotOffered` with the names of those that are.
 */
export function chooseFormat(asked: string | undefined, offeredCodes: readonly number[]): WireFormat {
  const offered = wireFormats.filter(({ code }) => offeredCodes.includes(code));
  const chosen = asked === undefined ? offered[0] : offered.find(({ name }) => name === asked);
  if (chosen) return chosen;
  const names = offered.map(({ name }) => name).join(' ');
  throw new DriverError('formatNotOffered', { ...(asked === undefined ? {} : { pixelFormat: asked }), offered: names === '' ? 'none that can be read' : names });
}
