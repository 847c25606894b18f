import { sentenceFor } from '../errors/index.ts';
import { lengthUm } from '../errors/words.ts';
import { ok, toMend, type Finding } from '../doctor/finding.ts';
import type { Bench, PreflightCheck } from './check.ts';

/** Asks one device; its trouble hides no other's. */
async function answer(name: string, ask: () => Promise<string>): Promise<Finding> {
  try {
    return ok(name, await ask());
  } catch (error) {
    return toMend(name, `it does not answer as it should. ${sentenceFor(error).sentence}`, 'look at its power and its cable; `nightjar instruments` and `nightjar doctor` say more');
  }
}

async function stageAnswer({ instrument: { stage } }: Bench): Promise<Finding> {
  const name = 'stage answers';
  try {
    const state = await stage.state();
    if (state === 'positionLost') return toMend(name, 'it does not know where it is', 'nightjar home');
    if (state !== 'idle') return toMend(name, `it says "${state}" where it should stand idle`, state === 'moving' ? 'wait until it stands, then check again' : 'nightjar home');
    const { xUm, yUm } = await stage.position();
    return ok(name, `idle at ${lengthUm(xUm)}, ${lengthUm(yUm)}`);
  } catch (error) {
    return answer(name, async () => {
      throw error;
    });
  }
}

/** Whether every device answers what a night will ask of it. */
export const checkDevices: PreflightCheck = {
  name: 'devices answer',
  needs: 'nothing',
  look: async (bench) => {
    const { focus, camera, turret, lamp, fieldStop } = bench.instrument;
    const { model, widthPx, heightPx, pixelFormat } = camera.info;
    return [
      await stageAnswer(bench),
      await answer('focus drive answers', async () => `stands at ${lengthUm(await focus.position())}`),
      ok('camera answers', `${model}, ${widthPx} × ${heightPx} px, ${pixelFormat}`),
      await answer('turret answers', async () => `place ${(await turret.position()) + 1} of ${turret.positions}`),
      await answer('lamp answers', async () => (lamp.isByHand ? 'it is switched by hand: what it is set to is only believed' : `set to ${Math.round(100 * (await lamp.intensity()))} % of its light`)),
      ...(fieldStop ? [await answer('field stop answers', async () => `${Math.round(100 * (await fieldStop.opening()))} % open`)] : []),
    ];
  },
};
