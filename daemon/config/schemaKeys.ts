import { z } from 'zod';
import type { Path } from './yamlSource.ts';

/** Takes off what only fills in a missing value. */
function bare(schema: unknown): unknown {
  const filled = schema instanceof z.ZodOptional || schema instanceof z.ZodDefault || schema instanceof z.ZodPrefault;
  return filled ? bare(schema.unwrap()) : schema;
}

/** The schemas one step further in; a union leads into each of its options. */
function step(schema: unknown, key: string | number): unknown[] {
  const at = bare(schema);
  if (at instanceof z.ZodObject) return Object.hasOwn(at.shape, key) ? [at.shape[key]] : [];
  if (at instanceof z.ZodRecord) return [at.valueType];
  if (at instanceof z.ZodArray) return [at.element];
  if (at instanceof z.ZodTuple) return [at.def.items[Number(key)]];
  if (at instanceof z.ZodUnion) return at.options.flatMap((option) => step(option, key));
  return [];
}

function schemasAt(schema: z.ZodType, path: Path): unknown[] {
  return path.reduce<unknown[]>((schemas, key) => schemas.flatMap((each) => step(each, key)), [schema]);
}

function keysOf(schema: unknown): string[] {
  const at = bare(schema);
  if (at instanceof z.ZodObject) return Object.keys(at.shape);
  return at instanceof z.ZodUnion ? at.options.flatMap(keysOf) : [];
}

/** The keys that a schema knows at a place; none where names are free or no mapping stands. */
export function keysAt(schema: z.ZodType, path: Path): readonly string[] {
  return [...new Set(schemasAt(schema, path).flatMap(keysOf))];
}

/** What the schema says a setting is for, and undefined when it says nothing. */
export function descriptionAt(schema: z.ZodType, path: Path): string | undefined {
  for (const at of schemasAt(schema, path)) {
    const inner = bare(at);
    const said = at instanceof z.ZodType ? at.description : undefined;
    const text = said ?? (inner instanceof z.ZodType ? inner.description : undefined);
    if (text !== undefined) return text;
  }
  return undefined;
}
