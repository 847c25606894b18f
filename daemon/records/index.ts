export { canonicalDump } from './canonical.ts';
export type { CanonicalOptions } from './canonical.ts';
export * from './images.ts';
export { absoluteFile, cropFile, tilePictureFile } from './layout.ts';
export { openRecords } from './open.ts';
export type { OpenOptions } from './open.ts';
export type * from './types.ts';
export { verifyFolder, verifyRecords } from './check/verify.ts';
export type { VerifyReport } from './check/verify.ts';
