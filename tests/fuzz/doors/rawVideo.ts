import fc from 'fast-check';
import { FrameCutter } from '../../../drivers/rawVideo/frameCutter.ts';
import { LastWords } from '../../../drivers/rawVideo/lastWords.ts';
import { openRawVideoCamera } from '../../../drivers/rawVideo/index.ts';
import { createSystemClock } from '../../../drivers/clock/systemClock.ts';
import { anyBytes, oddText } from '../hostile.ts';
import { answerOf, hold, isFit, trial, type Door } from '../law.ts';

const chunks = fc.array(anyBytes, { maxLength: 20 });

/** Whatever comes and however it is cut: whole frames in their order, and no byte lost or doubled. */
function cutFrames([frameBytes, all, keeps]: readonly [number, readonly Uint8Array[], boolean]): void {
  const frames: number[] = [];
  const cutter = new FrameCutter(frameBytes, (frame) => {
    hold(frame.length === frameBytes, 'a frame is whole');
    frames.push(...frame);
    return keeps;
  });
  for (const chunk of all) cutter.push(chunk);
  const sent = all.flatMap((chunk) => [...chunk]);
  hold(frames.length + cutter.begunBytes === sent.length && frames.every((byte, n) => byte === sent[n]), 'frames are what was sent');
}

function hearWords(all: readonly Uint8Array[]): void {
  const words = new LastWords();
  for (const chunk of all) words.hear(chunk);
  hold(words.text.length <= 303 && !words.text.includes('\n'), 'last words are one line and short');
}

/** Commands that are none, and those that write what is no video. */
const command = fc.oneof(
  fc.array(oddText.filter((text) => text.length < 1000), { minLength: 1, maxLength: 3 }),
  fc.constantFrom(['printf', 'abc'], ['false'], ['/'], ['/dev/null'], ['printf', '\\033]0;x\\007'], ['sh', '-c', 'printf "\\033[2J" >&2; exit 3'], ['nightjar-no-such-command']),
);

async function open(words: readonly string[]): Promise<void> {
  const camera = await answerOf(() => openRawVideoCamera({ command: words, widthPx: 64, heightPx: 64, pixelFormat: 'mono8', exposureMs: 1, frameMs: 1 }, createSystemClock()));
  if (camera) hold(isFit(camera.info.model), 'a model is fit to be shown');
  await camera?.close();
}

export const rawVideo: Door = {
  name: 'raw video',
  trials: [
    trial('bytes cut anywhere', fc.tuple(fc.integer({ min: 1, max: 700 }), chunks, fc.boolean()), cutFrames),
    trial('what a command says last', chunks, hearWords),
    trial('commands that give no video', command, open, 0.1),
  ],
};
