import { z } from 'zod';
import { boundedText } from '../config/boundedText.ts';
import { NightjarError, type TableProblem } from '../errors/index.ts';

/** A megabyte: far more than any table of an index, a lamp or a camera. */
export const maxTableBytes = 1_000_000;
const maxRows = 20_000;
const maxProblemsNamed = 10;
/** Every table must cover the visible by itself. */
const coveredNm = [400, 700] as const;

/** A table as read: columns by name, and the `key: value` comments above and between its rows. */
export interface NumberTable {
  readonly file: string;
  readonly remarks: ReadonlyMap<string, { readonly value: string; readonly line: number }>;
  readonly columns: ReadonlyMap<string, readonly number[]>;
}

/** What one column may hold. */
export interface ColumnRule {
  readonly name: string;
  readonly min: number;
  readonly max: number;
}

export const wavelengthColumn: ColumnRule = { name: 'wavelength_nm', min: 100, max: 100_000 };

/** Throws `badTable` with the first ten problems; nothing when there are none. */
export function refuseTable(file: string, problems: readonly TableProblem[]): void {
  if (problems.length === 0) return;
  const more = problems.length - maxProblemsNamed;
  const named = problems.slice(0, maxProblemsNamed);
  throw new NightjarError('badTable', { file, problems: more > 0 ? [...named, { line: 0, message: `${more} more of the kind` }] : named });
}

/** The text of a table file. Throws `noSuchFile`, `unreadableFile`, or `badTable` when it is too large: it is not read further than that. */
export async function readTableText(file: string): Promise<string> {
  const text = await boundedText(file, maxTableBytes);
  if (text !== undefined) return text;
  throw new NightjarError('badTable', { file, problems: [{ line: 0, message: `it is larger than ${maxTableBytes / 1e6} MB, which is the most` }] });
}

interface Row {
  readonly line: number;
  readonly cells: readonly string[];
}

function splitLines(text: string): { readonly remarks: Map<string, { value: string; line: number }>; readonly rows: Row[] } {
  const remarks = new Map<string, { value: string; line: number }>();
  const rows: Row[] = [];
  text.replace(/^\uFEFF/, '').split(/\r\n|\n|\r/).forEach((raw, index) => {
    const content = raw.trim();
    const line = index + 1;
    const remark = /^#\s*([a-z_]+)\s*:\s*(.+)$/i.exec(content);
    if (remark) remarks.set((remark[1] as string).toLowerCase(), { value: (remark[2] as string).trim(), line });
    else if (content !== '' && !content.startsWith('#')) rows.push({ line, cells: content.split(',').map((cell) => cell.trim()) });
  });
  return { remarks, rows };
}

/** The schema of one row, made from the rules of its columns. */
function rowSchema(rules: readonly ColumnRule[]): z.ZodType<Record<string, number>> {
  const cell = ({ name, min, max }: ColumnRule): z.ZodType<number> =>
    z
      .string()
      .refine((text) => /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(text), { error: ({ input }) => `${name} is not a number: "${String(input).slice(0, 40)}"`, abort: true })
      .transform(Number)
      .refine((value) => Number.isFinite(value) && value >= min && value <= max, { error: ({ input }) => `${name} ${Number(input)} is outside ${min} to ${max}` });
  return z.object(Object.fromEntries(rules.map((rule) => [rule.name, cell(rule)])));
}

function wavelengthProblems(wavelengthsNm: readonly number[], lines: readonly number[]): TableProblem[] {
  const problems: TableProblem[] = [];
  wavelengthsNm.forEach((nm, i) => {
    const before = wavelengthsNm[i - 1];
    if (before !== undefined && nm <= before) problems.push({ line: lines[i] ?? 0, message: `wavelengths have to rise: ${nm} nm comes after ${before} nm` });
  });
  const [first = NaN, last = NaN] = [wavelengthsNm[0], wavelengthsNm.at(-1)];
  if (problems.length === 0 && !(first <= coveredNm[0] && last >= coveredNm[1])) {
    problems.push({ line: 0, message: `${coveredNm[0]} to ${coveredNm[1]} nm have to be covered; it goes from ${first} to ${last} nm` });
  }
  return problems;
}

function headProblem(head: Row | undefined, names: readonly string[]): string | undefined {
  const wanted = `the first line that is no comment has to be ${names.join(',')}`;
  if (!head) return `it is empty; ${wanted}`;
  return head.cells.join(',').toLowerCase() === names.join(',') ? undefined : wanted;
}

/**
 * Reads a table of numbers: comma-separated, one head line with the columns' names, lines that begin with # are comments, and a comment
 * `# key: value` is kept as a remark.
 * @param rules the columns in their order; the first is the wavelength
 * @throws NightjarError `badTable` with line and reason of what is wrong
 */
export function parseTable(text: string, file: string, rules: readonly ColumnRule[]): NumberTable {
  const { remarks, rows } = splitLines(text);
  const [head, ...body] = rows;
  const names = rules.map(({ name }) => name);
  const badHead = headProblem(head, names);
  if (badHead !== undefined) refuseTable(file, [{ line: head?.line ?? 0, message: badHead }]);
  if (body.length > maxRows) refuseTable(file, [{ line: 0, message: `${body.length} rows are more than ${maxRows}, which is the most` }]);
  const schema = rowSchema(rules);
  const problems: TableProblem[] = [];
  const values: Record<string, number>[] = [];
  for (const { line, cells } of body) {
    if (cells.length !== names.length) {
      problems.push({ line, message: `${cells.length} values where ${names.length} are wanted: ${names.join(', ')}` });
      continue;
    }
    const row = schema.safeParse(Object.fromEntries(names.map((name, i) => [name, cells[i]])));
    if (row.success) values.push(row.data);
    else problems.push(...row.error.issues.map((issue) => ({ line, message: issue.message })));
  }
  refuseTable(file, problems);
  const columns = new Map(names.map((name) => [name, values.map((row) => row[name] as number)]));
  refuseTable(file, wavelengthProblems(columns.get(names[0] as string) ?? [], body.map(({ line }) => line)));
  return { file, remarks, columns };
}
