export * from './frameSet.ts';
export * from './frameSetCamera.ts';
