import { createServer, type AddressInfo, type Socket } from 'node:net';
import { afterAll, expect, it } from 'vitest';
import { openGcodeController } from '../../../drivers/gcode/index.ts';
import { tcpOpener } from '../../../drivers/line/tcpWire.ts';
import { distanceUm } from '../../../planner/units/index.ts';
import { ControllerCore } from '../../../simulators/farEnd/firmware/controllerCore.ts';
import { QUICK_BUILD } from '../../../simulators/farEnd/firmware/settings.ts';
import { atEnd, AXES, clock, closeAll } from './rig.ts';

afterAll(closeAll);

/** A controller behind a serial device server. */
async function networked() {
  const sockets = new Set<Socket>();
  const core = new ControllerCore(clock, QUICK_BUILD, [-7, -6, -2], (text) => {
    for (const socket of sockets) socket.write(text, 'latin1');
  });
  void core.powerOn();
  const server = createServer((socket) => {
    sockets.add(socket);
    socket.on('data', (bytes) => core.receive(bytes, clock.now()));
    socket.on('error', () => undefined);
    socket.on('close', () => sockets.delete(socket));
  });
  await new Promise<void>((resolve) => {
    server.listen(0, '127.0.0.1', resolve);
  });
  atEnd(() => {
    for (const socket of sockets) socket.destroy();
    server.close();
  });
  return { core, sockets, tcpPort: (server.address() as AddressInfo).port };
}

it('a controller over TCP is the same, also after its connection was lost', async () => {
  const { core, sockets, tcpPort } = await networked();
  const openWire = tcpOpener({ host: '127.0.0.1', tcpPort }, clock);
  const controller = await openGcodeController({ clock, openWire, line: { line: `127.0.0.1:${tcpPort}` }, reference: 'homing', stage: AXES });
  atEnd(() => controller.close());
  const { stage } = controller;
  await stage?.home();
  const target = { xUm: 17_000, yUm: 2000 };
  await stage?.moveTo(target);
  for (const socket of sockets) socket.destroy();
  await clock.sleep(20);
  const at = await stage?.moveTo({ xUm: 17_500, yUm: 2000 });
  expect(distanceUm(at ?? target, { xUm: 17_500, yUm: 2000 })).toBeLessThanOrEqual(0.2);
  expect(core.trueMm(clock.now())[0]).toBeCloseTo(-2.5, 3);
  expect(controller.counters.reconnects).toBe(1);
});
