import type { InstrumentConfig } from '../config/instrument.ts';
import type { RunSheet } from '../config/runSheet.ts';
import type { ScanPlan } from '../../planner/plan/types.ts';

/** Added to the forecast, whichever is more: a share of it, and half an hour (common practice, no source). */
const marginShare = 0.25;
const leastMarginS = 1800;
/** Names of chips that a notice has room for; the others are counted. */
const namesRoomChars = 90;
/** Magnification from which the front of an objective is usually within a few millimetres of the chip (common practice, no source). */
const nearMagnification = 50;

/** What stands on the door, in words but for the times. */
export interface NoticeFacts {
  readonly title: string;
  readonly instrument: string;
  readonly simulated: boolean;
  /** "24 chips: K-01, K-02, and 22 more". */
  readonly chips: string;
  readonly materials: string;
  readonly fromMs: number;
  readonly forecastEndMs: number;
  /** With the margin: nobody need wonder before. */
  readonly latestEndMs: number;
  readonly marginMin: number;
  readonly operator: string;
  readonly contact: string;
  readonly hazards: readonly string[];
  readonly leaveAlone: readonly string[];
}

export interface NoticeParts {
  readonly sheet: RunSheet;
  readonly config: InstrumentConfig;
  readonly plan: ScanPlan;
  readonly fromMs: number;
}

export function factsOf({ sheet, config, plan, fromMs }: NoticeParts): NoticeFacts {
  const lastsS = plan.forecastS + (plan.closeUps?.budgetS ?? 0);
  const marginS = Math.max(leastMarginS, marginShare * lastsS);
  return {
    title: sheet.title,
    instrument: config.instrument,
    simulated: config.stage.driver === 'simulated',
    chips: chipsText(sheet.chips.map(({ name }) => name)),
    materials: [...new Set(sheet.chips.map(({ material }) => material))].sort().join(', '),
    fromMs,
    forecastEndMs: fromMs + 1000 * lastsS,
    latestEndMs: fromMs + 1000 * (lastsS + marginS),
    marginMin: Math.round(marginS / 60),
    operator: sheet.operator.initials,
    contact: sheet.operator.contact,
    hazards: hazardsOf(sheet, config),
    leaveAlone: leaveAloneOf(config),
  };
}

function chipsText(names: readonly string[]): string {
  const shown: string[] = [];
  for (const name of names) if ([...shown, name].join(', ').length <= namesRoomChars) shown.push(name);
    else break;
  const rest = names.length - shown.length;
  const list = shown.length === 0 ? '' : `: ${shown.join(', ')}${rest > 0 ? ` and ${rest} more` : ''}`;
  return `${names.length} ${names.length === 1 ? 'chip' : 'chips'}${list}`;
}

/** Objectives that this run sheet uses, by name. */
function objectivesOf(sheet: RunSheet, config: InstrumentConfig): readonly string[] {
  const paths = [sheet.opticalPath, ...(sheet.closeUps ? [sheet.closeUps.opticalPath] : [])];
  return [...new Set(paths.flatMap((path) => config.opticalPaths[path]?.objective ?? []))];
}

/** What can hurt here, from what the two files say of this instrument. */
function hazardsOf(sheet: RunSheet, config: InstrumentConfig): readonly string[] {
  const objectives = objectivesOf(sheet, config);
  const turns = objectives.length > 1 && config.turret.driver !== 'byHand';
  const near = objectives.some((name) => (config.objectives[name]?.magnification ?? 0) >= nearMagnification);
  const speedMmPerS = Math.round(config.stage.maxSpeedUmPerS / 100) / 10;
  return [
    `The stage moves by itself, up to ${speedMmPerS} mm/s, after any length of rest. It pinches fingers and pulls cables and sleeves along.`,
    `The objective goes up and down by itself${turns ? ', and the turret turns' : ''}${near ? '; it comes within millimetres of the chips' : ''}.`,
    config.lamp.kind === 'halogen'
      ? 'Bright light, and a halogen lamp housing hot enough to burn. Do not look into the objective or its reflection. Nothing that burns near the housing.'
      : 'Bright LED light. Do not look into the objective or its reflection.',
    ...(config.lamp.driver === 'byHand' ? ['The lamp is not switched by the computer: it stays on after the run, and after a stop.'] : []),
  ];
}

function leaveAloneOf(config: InstrumentConfig): readonly string[] {
  return [
    'Bench, table and cables: do not lean on them, lift nothing off, plug nothing in or out.',
    'Room light and door: leave them as they are. Stray light spoils the measurement, a slammed door the focus.',
    `Computer: do not use, restart or switch it off${config.camera.driver === 'simulated' ? '' : ', nor unplug camera or network'}.`,
  ];
}
