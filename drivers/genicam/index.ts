export { wireFormats } from './formats.ts';
export type { GenicamCamera } from './genicamCamera.ts';
export { listCameras, type CameraList } from './listCameras.ts';
export type { CameraChoice, CameraCounters, CameraFacts, FoundCamera, Triggering } from './messages.ts';
export { openGenicamCamera, type GenicamOptions } from './open.ts';
