import fc from 'fast-check';

/** Pieces that have broken readers elsewhere: the usual suspects of fuzzing, from memory. */

const ESCAPE = '\u001b[2J\u001b]0;title\u0007';

export const oddNumber = fc.constantFrom(
  Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY, -0, 0, -1, 0.1, 1e-9, 5e-324, 1e21, 1e308, -1e308, 65_536, 2 ** 31, 2 ** 32, Number.MAX_SAFE_INTEGER + 2,
);

/** Names that mean something to the language. */
export const oddKey = fc.constantFrom('__proto__', 'constructor', 'prototype', 'toString', 'hasOwnProperty', 'valueOf', 'then', 'length', '', ' ', '0', '-1', '<<', 'x'.repeat(300), ESCAPE, '\ud800', '\u0000');

export const oddText = fc.oneof(
  { weight: 3, arbitrary: fc.constantFrom('', ' ', '\n', '\r\n', '\t', '\u0000', ESCAPE, '\u009b31m', '\ud800', '\udc00x', '\ufeff', '\u202e', '\u2028', '\ufffd', '💡', 'µ') },
  { weight: 2, arbitrary: fc.constantFrom('__proto__', 'constructor', 'NaN', '1e999', '0x10', '-0', '1_000', '٣', 'null', '~', '.inf', '{', '}', '{x}', '{{', '$x', '%s', '<CR>', '../../x', '/dev/zero', '\\', '"', '(a+)+$') },
  { weight: 1, arbitrary: fc.constantFrom('x'.repeat(5000), '['.repeat(3000), '-'.repeat(3000), '\u0000'.repeat(300)) },
  { weight: 2, arbitrary: fc.string({ maxLength: 12 }) },
  { weight: 2, arbitrary: fc.string({ unit: 'binary', maxLength: 12 }) },
);

/** A list in a list in a list. */
function nested(depth: number): unknown {
  let value: unknown = [];
  for (let level = 0; level < depth; level++) value = level % 2 === 0 ? [value] : { a: value };
  return value;
}

/** Anything that JSON or YAML can hold where something else is expected. */
export const oddValue: fc.Arbitrary<unknown> = fc.oneof(
  { weight: 4, arbitrary: oddNumber },
  { weight: 4, arbitrary: oddText },
  { weight: 2, arbitrary: fc.constantFrom<unknown>(null, true, false, [], {}, [[]], [null], { a: 1 }) },
  { weight: 1, arbitrary: fc.nat(150).map(nested) },
  { weight: 1, arbitrary: fc.array(oddNumber, { maxLength: 5 }) },
  { weight: 1, arbitrary: fc.dictionary(oddKey, oddText, { maxKeys: 3, noNullPrototype: true }) },
  { weight: 1, arbitrary: fc.constantFrom(20, 2000).map((length) => Array.from({ length }, (_, n) => n)) },
);

/** Bytes as they may come from anywhere, and as most readers of text see them. */
export const anyBytes = fc.uint8Array({ maxLength: 400 });
export const anyText = fc.oneof(
  anyBytes.map((bytes) => new TextDecoder().decode(bytes)),
  fc.string({ unit: 'binary', maxLength: 300 }),
  fc.array(oddText, { maxLength: 6 }).map((texts) => texts.join('')),
);
