export { closeUpsInBudget } from './choose.ts';
export type { ChosenCloseUps, CloseUpBudget, TourPlace } from './choose.ts';
export { secondsPerCloseUp, stackHeightsUm } from './seconds.ts';
export type { CloseUpTiming } from './seconds.ts';
export type { CloseUpCandidate, CloseUpPolicy } from './types.ts';
export { closeUpTerrace, closeUpValue } from './value.ts';
export { closeUpTravel } from './travel.ts';
