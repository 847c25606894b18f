export * from './camera.ts';
export * from './clock.ts';
export * from './error.ts';
export * from './focusDrive.ts';
export * from './instrument.ts';
export * from './lamp.ts';
export * from './stage.ts';
export * from './turret.ts';
