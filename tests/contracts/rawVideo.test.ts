import { afterEach } from 'vitest';
import { InventedCommands } from '../drivers/rawVideo/invented.ts';
import { cameraContract } from './camera.ts';

const commands = new InventedCommands();
afterEach(() => commands.clear());

cameraContract('raw-video pipe', async () => ({ camera: (await commands.open({ pixelFormat: 'rgb8' })).camera, clock: commands.clock }));
