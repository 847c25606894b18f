import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { chooseFormat, formatOfCode, wireFormats, type WireFormat } from '../../../drivers/genicam/formats.ts';
import { FrameMemory } from '../../../drivers/genicam/frameMemory.ts';
import { copyPixels, frameBytes, rowBytes, unpackRow } from '../../../drivers/genicam/pixels.ts';

const fresh = (bytes: number) => new SharedArrayBuffer(bytes);

function named(name: string): WireFormat {
  const format = wireFormats.find((each) => each.name === name);
  if (!format) throw new Error(`no format ${name}`);
  return format;
}

describe('pixel formats', () => {
  // Codes: /usr/include/aravis-0.8/arvenums.h of Debian's libaravis-dev 0.8.26 (ARV_PIXEL_FORMAT_...), which quotes the PFNC.
  it.each([
    ['MONO_8', 0x01080001, 'mono8', 8],
    ['MONO_12', 0x01100005, 'mono16', 12],
    ['MONO_16', 0x01100007, 'mono16', 16],
    ['BAYER_GR_8', 0x01080008, 'bayerGR8', 8],
    ['BAYER_RG_8', 0x01080009, 'bayerRG8', 8],
    ['BAYER_GB_8', 0x0108000a, 'bayerGB8', 8],
    ['BAYER_BG_8', 0x0108000b, 'bayerBG8', 8],
    ['BAYER_GR_12', 0x01100010, 'bayerGR16', 12],
    ['BAYER_RG_12', 0x01100011, 'bayerRG16', 12],
    ['BAYER_GB_12', 0x01100012, 'bayerGB16', 12],
    ['BAYER_BG_12', 0x01100013, 'bayerBG16', 12],
    ['BAYER_BG_12P', 0x010c0053, 'bayerBG16', 12],
    ['BAYER_RG_12_PACKED', 0x010c002b, 'bayerRG16', 12],
    ['RGB_8_PACKED', 0x02180014, 'rgb8', 8],
    ['RGB_12_PACKED', 0x0230001a, 'rgb16', 12],
  ])('%s', (_name, code, pixelFormat, bits) => {
    expect(formatOfCode(code)).toMatchObject({ pixelFormat, bits });
  });

  it('lists no code and no name twice', () => {
    expect(new Set(wireFormats.map(({ code }) => code)).size).toBe(wireFormats.length);
    expect(new Set(wireFormats.map(({ name }) => name)).size).toBe(wireFormats.length);
  });

  it('takes what is asked for, else the first of ours, else says what there is', () => {
    const offered = [0x01080001, 0x02180014, 0x02180021];
    expect(chooseFormat('Mono8', offered).name).toBe('Mono8');
    expect(chooseFormat(undefined, offered).name).toBe('RGB8');
    expect(() => chooseFormat('Mono12', offered)).toThrow(expect.objectContaining({ code: 'formatNotOffered', details: { pixelFormat: 'Mono12', offered: 'RGB8 Mono8' } }) as Error);
    expect(() => chooseFormat(undefined, [0x02180021])).toThrow(expect.objectContaining({ code: 'formatNotOffered' }) as Error);
  });
});

describe('twelve bits in three bytes', () => {
  // Layouts from memory: PFNC "p" packs from the lowest bit on; GigE Vision "Packed" keeps the high eight bits in bytes 0 and 2, and in
  // byte 1 the low four of the first sample in its low half, of the second in its high half. 0xABC and 0x123 by hand.
  it('12p', () => {
    const row = new Uint16Array(2);
    unpackRow(Uint8Array.of(0xbc, 0x3a, 0x12), 0, '12p', row);
    expect([...row]).toEqual([0xabc, 0x123]);
  });
  it('12Packed', () => {
    const row = new Uint16Array(2);
    unpackRow(Uint8Array.of(0xab, 0x3c, 0x12), 0, '12Packed', row);
    expect([...row]).toEqual([0xabc, 0x123]);
  });
  it('begins at odd samples too', () => {
    const row = new Uint16Array(2);
    unpackRow(Uint8Array.of(0xbc, 0x3a, 0x12, 0x56, 0x04, 0x00), 1, '12p', row);
    expect([...row]).toEqual([0x123, 0x456]);
  });
  it('refuses rows that end inside a byte', () => {
    expect(() => rowBytes({ widthPx: 3, heightPx: 1, rowPaddingBytes: 0, format: named('Mono12p') })).toThrow(expect.objectContaining({ code: 'badFrame' }) as Error);
  });
});

describe('the one copy', () => {
  it('keeps the low byte first in 16-bit words', () => {
    const layout = { widthPx: 2, heightPx: 1, rowPaddingBytes: 0, format: named('Mono12') };
    expect(copyPixels(Uint8Array.of(0xbc, 0x0a, 0x23, 0x01), layout, { colPx: 0, rowPx: 0, widthPx: 2, heightPx: 1 }, fresh)).toEqual(Uint16Array.of(0xabc, 0x123));
  });

  it('cuts any part out, leaves padding behind, and shares no memory with the buffer', () => {
    const size = fc.integer({ min: 1, max: 9 });
    const part = fc.record({ col: fc.nat(8), row: fc.nat(8), width: size, height: size });
    fc.assert(fc.property(size, size, fc.nat(3), part, fc.constantFrom('Mono8', 'RGB8'), (widthPx, heightPx, rowPaddingBytes, { col, row, width, height }, name) => {
      const samples = name === 'RGB8' ? 3 : 1;
      const colPx = col % widthPx;
      const rowPx = row % heightPx;
      const region = { colPx, rowPx, widthPx: Math.min(width, widthPx - colPx), heightPx: Math.min(height, heightPx - rowPx) };
      const layout = { widthPx, heightPx, rowPaddingBytes, format: named(name) };
      // Each byte tells its row and place; padding is 255.
      const rows = Array.from({ length: heightPx }, (_, y) => [...Array.from({ length: widthPx * samples }, (_each, x) => y * 27 + x), ...Array.from({ length: rowPaddingBytes }, () => 255)]);
      const copied = copyPixels(Uint8Array.from(rows.flat()), layout, region, fresh);
      const expected = rows.slice(rowPx, rowPx + region.heightPx).flatMap((each) => each.slice(colPx * samples, (colPx + region.widthPx) * samples));
      expect([...copied]).toEqual(expected);
      expect(copied.buffer).toBeInstanceOf(SharedArrayBuffer);
    }));
  });

  it('goes into memory that was made ready, which is given away once', () => {
    const memory = new FrameMemory();
    const region = { colPx: 0, rowPx: 0, widthPx: 3, heightPx: 2 };
    expect([frameBytes(named('RGB8'), region), frameBytes(named('Mono12p'), region)]).toEqual([18, 12]);
    memory.prepare(18);
    const [first, second, other] = [memory.take(18), memory.take(18), memory.take(12)];
    expect(first).not.toBe(second);
    expect([first.byteLength, second.byteLength, other.byteLength]).toEqual([18, 18, 12]);
    memory.prepare(18);
    expect(memory.take(12).byteLength).toBe(12);
  });

  it('refuses a buffer that is too short for its picture', () => {
    const layout = { widthPx: 4, heightPx: 4, rowPaddingBytes: 0, format: named('Mono8') };
    expect(() => copyPixels(new Uint8Array(15), layout, { colPx: 0, rowPx: 0, widthPx: 4, heightPx: 4 }, fresh)).toThrow(expect.objectContaining({ code: 'badFrame' }) as Error);
  });
});
