import type { DescriptionProblem } from '../../drivers/described/index.ts';
import { nearest } from '../config/nearest.ts';

function among(known: readonly string[], what: string): string {
  return known.length === 0 ? `no ${what} belongs here` : `here belong ${known.join(', ')}`;
}

/** `; the nearest is "x" (here belong x, y)`. */
function hint(name: string, known: readonly string[], what: string): string {
  const near = nearest(name, known);
  return near === undefined ? `: ${among(known, what)}` : `; the nearest is "${near}" (${among(known, what)})`;
}

/** What is wrong with a description beyond its schema, in words. */
export function problemWords(problem: DescriptionProblem): string {
  switch (problem.code) {
    case 'brokenBraces':
      return `the braces of ${JSON.stringify(problem.text)} do not fit; a brace itself is written twice, {{ or }}`;
    case 'notAscii':
      return `${JSON.stringify(problem.text)} has characters that are not ASCII; control characters are written as <CR>`;
    case 'unknownPlaceholder':
      return `unknown value {${problem.name}}${hint(problem.name, problem.known, 'value')}`;
    case 'unknownField':
      return `unknown field {${problem.name}}${hint(problem.name, problem.known, 'field')}; what is passed over is called _`;
    case 'unknownType':
      return `the field ${problem.name} is of no known type ("${problem.type}"): number, integer, word or text`;
    case 'fieldTwice':
      return `the field ${problem.name} stands there twice; what is passed over is called _`;
    case 'endlessField':
      return `it cannot be told where the field ${problem.name} ends: something that does not belong to it must follow`;
    case 'missingPlaceholder':
      return `nothing here sends {${problem.name}}`;
    case 'missingField':
      return `nothing here expects {${problem.name}:number}, without which the answer says nothing`;
    case 'notANumber':
      return `{${problem.name}} must be a number or integer`;
    case 'noAnswer':
      return 'this is a question: say what is expected as an answer (expect)';
    case 'terminatorInside':
      return 'the terminator stands in the command itself: it is added by itself';
    case 'mixedMove':
      return 'a move either names the place ({x}) or the way to it ({dx}), not both';
    case 'speedNowhere':
      return 'nothing sends {speed}: name a command (set), or put it into moveTo';
    case 'speedTwice':
      return '{speed} stands in moveTo already: take this out, or that';
    case 'limitsOrder':
      return `must be more than the lower end (${problem.low}), not ${problem.high}`;
    case 'sameAtBothEnds':
      return 'must differ from unitsAtZero';
    case 'noPart':
      return 'this describes no part: name at least one of stage, focus, turret, filterWheel, lamp, shutter, fieldStop';
    case 'cannotBeStopped':
      return 'it moves and there is no stop: name the command that halts it, or, where there is none, say cannotStop: true';
  }
}
