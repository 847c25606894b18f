import fc from 'fast-check';
import { stringify } from 'yaml';
import { oddText } from './hostile.ts';

/** Aliases that unfold to 9^8 texts ("billion laughs"), from memory. */
const bomb = ['a: &a [x, x, x, x, x, x, x, x, x]', ...Array.from('bcdefgh').map((name, n) => `${name}: &${name} [${Array(9).fill(`*${'abcdefg'[n] ?? 'a'}`).join(', ')}]`)].join('\n');

/** What YAML has and configuration has no use for. */
const yamlPiece = fc.oneof(
  fc.constantFrom('&a ', '*a', '*nobody', '<<: *a\n', '<<: [1]\n', '!!binary "AAAA"', '!!set {a}', '!!timestamp 2001-01-01', '!own x', '!<tag:yaml.org,2002:float> 1', '%YAML 1.1\n', '%TAG ! x\n'),
  fc.constantFrom('---\n', '...\n', '? ', '? [a]\n: b\n', ': ', '- ', '|', '>', '|9\n', '\t', '"', "'", '#', '{', '}', '[', ']', ',', '.nan', '-.inf', '0o777', '1e999', '0x1', 'null', '~', '\u0000', '\u0085'),
  fc.constantFrom(`${bomb}\n`, 'z: &z [*z]\n', `x: ${'['.repeat(20_000)}\n`, `x: ${'{a: '.repeat(3000)}\n`, `x: "${'\\u0041'.repeat(20_000)}"\n`, `${'- '.repeat(3000)}\n`, `? `.repeat(2000)),
  oddText,
);

export { yamlPiece };

/** A document written as YAML, in one of the ways that it can be. Where the writer itself cannot, as JSON, which is YAML too. */
export function yamlText(tree: unknown): string {
  try {
    return stringify(tree, { aliasDuplicateObjects: false });
  } catch {
    return JSON.stringify(tree);
  }
}
