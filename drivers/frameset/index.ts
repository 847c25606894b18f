export * from './bayer.ts';
export * from './frameSet.ts';
export * from './frameSetCamera.ts';
