import { nightsLookedBack, steadinessOf, type Steadiness } from '../../planner/knownFlake/index.ts';
import type { KnownFlakeVisit, Records } from '../records/types.ts';

/** A visit against the same visit of earlier nights: a night warms a stand up, so that the first is held against first ones. Undefined where nothing was found. */
export function steadinessOfVisit(records: Pick<Records, 'knownFlakeBefore'>, runId: string, visit: KnownFlakeVisit): Steadiness | undefined {
  return visit.outcome === 'found' ? steadinessOf(visit, records.knownFlakeBefore(runId, visit, nightsLookedBack)) : undefined;
}

/** What one night has to say: of its last visit that found the flake, and of what has changed since its first. */
export interface NightSteadiness {
  readonly visit: KnownFlakeVisit;
  /** Left out where the flake was not found. */
  readonly steadiness?: Steadiness;
  /** The last visit against the first of the same night; left out where one of them found nothing. */
  readonly inNight?: Steadiness;
}

/** Undefined where the night went to no known flake. */
export function steadinessOfNight(records: Pick<Records, 'knownFlakeBefore' | 'knownFlake'>, runId: string): NightSteadiness | undefined {
  const visits = records.knownFlake(runId);
  const found = visits.filter((visit) => visit.outcome === 'found');
  const visit = found.at(-1) ?? visits.at(-1);
  if (!visit) return undefined;
  const [first, last] = found;
  const steadiness = steadinessOfVisit(records, runId, visit);
  return { visit, ...(steadiness ? { steadiness } : {}), ...(first && last ? { inNight: steadinessOf(last, [first]) } : {}) };
}
