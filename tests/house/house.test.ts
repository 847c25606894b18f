import { describe, expect, test } from 'vitest';
import { clockOffences } from './clocks.ts';
import { floorOffences } from './floors.ts';
import { importsOf } from './imports.ts';
import { circles, deadFiles, graphOf } from './reach.ts';
import { longFiles, longFunctions, shape } from './sizes.ts';
import { isCode, readSources, report, repositoryPaths } from './sources.ts';
import { machinePathOffences, markOffences, topLevelOffences, typeHoles } from './words.ts';

// The rules are the project's own (DEVELOPERS.md, "House rules"): there is no outside truth to hold them against.
// That each of them can fail is tested in rules.test.ts.

const paths = repositoryPaths();
const sources = readSources(paths);
const code = sources.filter(({ path }) => isCode(path));
const known = new Set(code.map(({ path }) => path));
const uses = code.flatMap(importsOf);
const graph = graphOf(uses, known);

describe('the house', () => {
  test('is read at all', () => {
    expect(code.length).toBeGreaterThan(20);
    expect(known).toContain('planner/units/index.ts');
  });
  test('imports run downward only, and packages stay at home', () => {
    expect(report(floorOffences(uses, known))).toEqual([]);
  });
  test('imports run in no circle', () => {
    expect(report(circles(graph))).toEqual([]);
  });
  test('every file is reached', () => {
    expect(report(deadFiles(graph))).toEqual([]);
  });
  test('files have 400 lines at most', () => {
    expect(report(longFiles(sources))).toEqual([]);
  });
  test('functions have 50 lines at most', () => {
    expect(report(code.flatMap(longFunctions))).toEqual([]);
  });
  test('median file and 90th percentile of functions stay far below the limits', () => {
    const { files, medianFileLines, functions, p90FunctionLines } = shape(sources);
    console.info(`house: ${files} files, median ${medianFileLines} lines; ${functions} named functions, 90th percentile ${p90FunctionLines} lines`);
    expect(medianFileLines).toBeLessThanOrEqual(120);
    expect(p90FunctionLines).toBeLessThanOrEqual(25);
  });
  test('clocks and chance are passed in', () => {
    expect(report(code.flatMap(clockOffences))).toEqual([]);
  });
  test('the compiler is never told to look away', () => {
    expect(report(code.flatMap(typeHoles))).toEqual([]);
  });
  test('nothing is left unfinished', () => {
    expect(report(code.flatMap(markOffences))).toEqual([]);
  });
  test('no path of one machine', () => {
    expect(report(sources.flatMap(machinePathOffences))).toEqual([]);
  });
  test('the top level holds what the design lists', () => {
    expect(report(topLevelOffences(paths))).toEqual([]);
  });
});
