import fc from 'fast-check';
import type { EncodedMessage } from '../../../daemon/server/browserLink.ts';
import { BrowserLink } from '../../../daemon/server/browserLink.ts';
import { clientMessageSchema } from '../../../daemon/server/messages.ts';
import { BrowserRequests, parseClientMessage } from '../../../daemon/server/requests.ts';
import { anyText } from '../hostile.ts';
import { hold, isFit, trial, type Door } from '../law.ts';
import { mutatedText, mutatedTree } from '../mutate.ts';
import { systemSecrets } from '../../../daemon/server/systemSecrets.ts';
import { ControlsDesk } from '../../../daemon/server/controlsDesk.ts';

const messages = [
  { type: 'snapshot', request: 'r1' },
  { type: 'goToFlake', request: 'r2', flakeId: 'K-07/12' },
  { type: 'stop', request: 'r3' },
  { type: 'checkAgain', request: 'r6' },
  { type: 'startNight', request: 'r7' },
  { type: 'giveVerdict', request: 'r4', flakeId: 'K-07/12', terrace: 0, layers: 2, source: 'afm', initials: 'm.o.', note: 'clean' },
  { type: 'withdrawVerdict', request: 'r5', flakeId: 'K-07/12', terrace: 0 },
];
const message = fc.constantFrom(...messages);

/** What a page may be refused with. */
const REFUSALS = ['badMessage', 'tooManyMessages', 'needsControls', 'controlsAsked'];

/** Each text is answered once, by words that are fit to be shown, and nothing is carried out that is not in order. */
async function take(texts: readonly string[]): Promise<void> {
  const answers: string[] = [];
  let carriedOut = 0;
  const act = async (): Promise<void> => void carriedOut++;
  const socket = { bufferedAmount: 0, send: (text: string) => void answers.push(text), close: () => undefined };
  const link = new BrowserLink(socket, (): readonly EncodedMessage[] => []);
  const controls = { goToFlake: act, endLive: act, pause: act, goOn: act, stop: act, giveVerdict: act, withdrawVerdict: act, nextToJudge: async () => void carriedOut++, preflight: { isChecking: false, checkAgain: act, startNight: act, stop: act } };
  const log = { info: () => undefined, warn: () => undefined };
  const desk = new ControlsDesk({ secrets: systemSecrets, log, now: () => 0, changed: () => undefined });
  const requests = new BrowserRequests({ link, controls, log, desk, seat: desk.sit('here'), now: () => 0, close: () => undefined });
  for (const text of texts) await requests.take(text);
  const understood = texts.map(parseClientMessage).filter((parsed) => parsed.ok);
  for (const { message: read } of understood) hold(clientMessageSchema.safeParse(read).success, 'what is read passes its own schema');
  hold(answers.length === texts.length, 'each is answered once');
  hold(carriedOut <= understood.length, 'nothing is carried out that is not in order');
  for (const answer of answers) {
    const said = JSON.parse(answer) as { readonly type: string; readonly code?: string; readonly sentence?: string };
    if (said.type !== 'refused') continue;
    hold(REFUSALS.includes(said.code ?? '') && (said.sentence?.length ?? 0) < 2000 && isFit(said.sentence ?? ''), `a refusal says why: ${answer.slice(0, 300)}`);
  }
}

const asText = (tree: unknown): string => JSON.stringify(tree) ?? '';

export const messagesFromPages: Door = {
  name: 'messages of pages',
  trials: [
    trial('any text', fc.array(anyText, { maxLength: 4 }), take, 3),
    trial('a message with something wrong in it', fc.array(message.chain(mutatedTree).map(asText), { minLength: 1, maxLength: 4 }), take, 3),
    trial('a text with something wrong in it', fc.array(message.chain((tree) => mutatedText(asText(tree))), { minLength: 1, maxLength: 4 }), take, 3),
  ],
};
