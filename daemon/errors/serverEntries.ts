import type { EntriesFor, ServerDetails } from './codes.ts';
import { bytes, counted, figure, stopped } from './words.ts';

const UNCHANGED = 'Nothing was changed.';

/** The door to the browser. */
export const serverEntries: EntriesFor<ServerDetails> = {
  badMessage: { exit: 2, say: ({ reason }) => [`The page sent a message that is not understood: ${stopped(reason)}`, UNCHANGED, 'Reload the page.'] },
  messageTooLarge: { exit: 2, say: (d) => [`A message of ${bytes(d.bytes)} is larger than ${bytes(d.maxBytes)}.`, UNCHANGED, 'Reload the page.'] },
  tooManyMessages: { exit: 2, say: ({ perS }) => [`More than ${counted(perS, 'message')} came in one second.`, UNCHANGED, 'Reload the page.'] },
  tooManyBrowsers: { exit: 2, say: ({ max }) => [`${counted(max, 'page')} are open already, which is the most.`, 'The others stay open.', 'Close one of them, then reload.'] },
  badOrigin: { exit: 2, say: ({ origin }) => [`A page from ${origin} asked for the instrument and was refused.`, UNCHANGED, 'Open the address that Nightjar printed.'] },
  tooManyRequests: { exit: 2, say: ({ waitS }) => [`This address asks for more than the server gives.`, UNCHANGED, `Try again in ${counted(waitS, 'second')}.`] },
  tooManyGuesses: { exit: 2, say: ({ waitS }) => ['Too many tokens were tried.', 'This one was not looked at.', `Try again in ${counted(waitS, 'second')}.`] },
  wrongToken: { exit: 2, say: () => ['This is not the token.', 'You were not let in.', 'Look at what `nightjar token` printed; a lost token is replaced with `nightjar token --new`.'] },
  notLetIn: { exit: 2, say: () => ['This instrument is shown to those who have its token.', 'Nothing was sent.', 'Open the first page and give the token.'] },
  needsControls: {
    exit: 2,
    say: ({ by }) => [by === undefined ? 'This needs the controls, and you do not have them.' : `This needs the controls, and ${by} has them.`, UNCHANGED, by === undefined ? 'Take them first.' : 'Ask for them first; Stop needs no controls.'],
  },
  controlsAsked: { exit: 2, say: ({ by }) => [`${by} has asked for the controls before you.`, UNCHANGED, 'Wait until they are free, or talk to each other.'] },
  badTokenFile: { exit: 2, say: ({ file, reason }) => [`The token's file ${file} cannot be used: ${stopped(reason)}`, 'Nothing was opened.', 'Mend it, or make a new token with `nightjar token --new`.'] },
  badCertificate: { exit: 2, say: ({ file, reason }) => [`${file}: ${stopped(reason)}`, 'Nothing was opened.', 'Give a certificate and its own key, both as PEM, with `--certificate` and `--key`.'] },
  needsTls: {
    exit: 2,
    say: ({ host }) => [
      `${host} can be reached from other computers, and without a certificate everything is sent in the clear: whoever listens on the network reads the token and can move the stage.`,
      'Nothing was opened.',
      'Give `--certificate` and `--key`; or leave the page on this computer and reach it through `ssh -L`; or, on a network that is cut off from all others, add `--unencrypted`.',
    ],
  },
  notFound: { exit: 2, say: ({ path }) => [`There is nothing at ${path}.`, UNCHANGED, 'Go back to the first page.'] },
  portInUse: { exit: 2, say: ({ port }) => [`Port ${figure(port, 0)} is taken by another program.`, 'Nothing was started.', 'Choose another with `--port`, or end the other program.'] },
};
