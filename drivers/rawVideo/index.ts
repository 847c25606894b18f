export * from './rawVideoCamera.ts';
