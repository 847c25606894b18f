import type { z } from 'zod';
import type { ConfigProblem } from '../errors/index.ts';
import { nearest } from './nearest.ts';
import { descriptionAt, keysAt } from './schemaKeys.ts';
import type { Path, YamlSource } from './yamlSource.ts';

type Issue = z.core.$ZodIssue;

/** A problem at a place in the data, before its line has been looked up. */
export interface PlacedProblem {
  readonly path: Path;
  readonly message: string;
}

const TYPES: Readonly<Record<string, string>> = {
  number: 'a number',
  int: 'a whole number',
  string: 'a text',
  boolean: 'true or false',
  object: 'a mapping',
  record: 'a mapping',
  array: 'a list',
  tuple: 'a list',
};

/** A value as it stands in the file, short. */
function shown(value: unknown): string {
  if (Array.isArray(value)) return `a list of ${value.length}`;
  if (value !== null && typeof value === 'object') return 'a mapping';
  const text = typeof value === 'string' ? JSON.stringify(value) : String(value);
  return text.length > 60 ? `${text.slice(0, 57)}...` : text;
}

function valueAt(data: unknown, path: Path): unknown {
  return path.reduce<unknown>((at, key) => (at !== null && typeof at === 'object' ? Reflect.get(at, key) : undefined), data);
}

/** The way to a setting as a person writes it: `chips[0].outline`. */
export function keyName(path: Path): string {
  return path.map((key, n) => (typeof key === 'number' ? `[${key}]` : n === 0 ? key : `.${key}`)).join('');
}

function plainPath(path: readonly PropertyKey[]): Path {
  return path.map((key) => (typeof key === 'number' ? key : String(key)));
}

const MEASURES: Readonly<Record<string, readonly [string, string]>> = {
  string: ['character', 'characters'],
  array: ['item', 'items'],
};

/** `have at least 3 items`, `be more than 0`. */
function bound(issue: z.core.$ZodIssueTooSmall | z.core.$ZodIssueTooBig): string {
  const small = issue.code === 'too_small';
  const limit = Number(small ? issue.minimum : issue.maximum);
  const words = issue.inclusive === false ? (small ? 'more than' : 'less than') : small ? 'at least' : 'at most';
  const measure = MEASURES[issue.origin];
  return measure ? `have ${words} ${limit} ${measure[limit === 1 ? 0 : 1]}` : `be ${words} ${limit}`;
}

/** What a value must be, from one issue; undefined for issues that are not about one value. */
function allowed(issue: Issue): string | undefined {
  if (issue.code === 'invalid_type') return `be ${TYPES[issue.expected] ?? issue.expected}`;
  if (issue.code === 'invalid_value') return `be one of ${issue.values.map(String).join(', ')}`;
  if (issue.code === 'too_small' || issue.code === 'too_big') return bound(issue);
  return undefined;
}

function unknownKey(schema: z.ZodType, path: Path, key: string): PlacedProblem {
  const known = keysAt(schema, path);
  const near = nearest(key, known);
  const hint = near === undefined ? '' : `; the nearest valid key is "${near}" (all: ${known.join(', ')})`;
  return { path: [...path, key], message: `unknown key "${key}"${hint}` };
}

/** Of a choice between mappings, the one that was begun; problems of the choice itself when none or several were. */
function ofUnion(schema: z.ZodType, data: unknown, path: Path, issue: z.core.$ZodIssueInvalidUnion): PlacedProblem[] {
  const value = valueAt(data, path);
  const known = keysAt(schema, path);
  if (known.length === 0 || value === null || typeof value !== 'object' || Array.isArray(value)) {
    return [{ path, message: `${value === undefined ? 'missing; ' : ''}must be a mapping with one of ${known.join(', ')}${value === undefined ? '' : `, not ${shown(value)}`}` }];
  }
  const given = Object.keys(value);
  const unknown = given.filter((key) => !known.includes(key));
  if (unknown.length > 0) return unknown.map((key) => unknownKey(schema, path, key));
  if (given.length !== 1) return [{ path, message: `must have exactly one of ${known.join(', ')}${given.length === 0 ? '' : `, not ${given.join(' and ')}`}` }];
  const begun = issue.errors.find((errors) => errors.every((error) => error.path[0] === given[0])) ?? [];
  return begun.flatMap((error) => placed(schema, data, { ...error, path: [...path, ...error.path] }));
}

function ofValue(schema: z.ZodType, data: unknown, path: Path, issue: Issue): PlacedProblem {
  const value = valueAt(data, path);
  const wanted = `must ${allowed(issue) ?? issue.message}`;
  const about = descriptionAt(schema, path);
  const note = about === undefined ? '' : ` (${about})`;
  if (value === undefined) return { path, message: `missing; ${wanted}${note}` };
  const quote = issue.code === 'invalid_type' && issue.expected === 'string' && typeof value !== 'object' ? '; put it in quotes' : '';
  return { path, message: `${wanted}, not ${shown(value)}${quote}${note}` };
}

function placed(schema: z.ZodType, data: unknown, issue: Issue): PlacedProblem[] {
  const path = plainPath(issue.path);
  if (issue.code === 'unrecognized_keys') return issue.keys.map((key) => unknownKey(schema, path, key));
  if (issue.code === 'invalid_union') return ofUnion(schema, data, path, issue);
  if (issue.code === 'invalid_key') return issue.issues.map((inner) => ({ path, message: `this name must ${allowed(inner) ?? inner.message}` }));
  return [ofValue(schema, data, path, issue)];
}

/** The schema's complaints about a file, each at its place. */
export function schemaProblems(schema: z.ZodType, data: unknown, error: z.ZodError): PlacedProblem[] {
  return error.issues.flatMap((issue) => placed(schema, data, issue));
}

/** Problems with their lines, in order of lines. */
export function withLines(problems: readonly PlacedProblem[], source: Pick<YamlSource, 'lineOf'>): ConfigProblem[] {
  return problems
    .map(({ path, message }) => ({ line: source.lineOf(path), key: keyName(path), message }))
    .sort((a, b) => a.line - b.line);
}
