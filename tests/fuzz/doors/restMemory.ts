import { readdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import fc from 'fast-check';
import { restMemory } from '../../../daemon/instrument/restMemory.ts';
import { stateFolder } from '../../../daemon/stateFolder.ts';
import { contentOf, inFolder } from '../folder.ts';
import { anyBytes, oddText } from '../hostile.ts';
import { each, hold, trial, type Door } from '../law.ts';
import { beginningsOf, mutatedText, mutatedTree } from '../mutate.ts';

const kept = { restMm: [-7, -6.25, -2], referenceMm: [0, 0, 0] };
const text = JSON.stringify(kept);

/** What cannot be read counts as nothing remembered; what can be has three finite numbers each. */
async function recall(content: string | Uint8Array): Promise<void> {
  await inFolder((folder) => {
    const memory = restMemory(folder, 'motion');
    memory.keep(kept);
    const [name = ''] = readdirSync(folder);
    writeFileSync(join(folder, name), content);
    const before = contentOf(folder);
    const recalled = memory.recall();
    hold(recalled === undefined || [recalled.restMm, recalled.referenceMm].every((mm) => mm.length === 3 && mm.every(Number.isFinite)), 'a place is three numbers');
    hold(contentOf(folder) === before, 'nothing is written');
  });
}

/** A line may be called anything: its file lies in the folder, and what is kept comes back. */
async function named(controller: string): Promise<void> {
  await inFolder((folder) => {
    const memory = restMemory(join(folder, 'state'), controller);
    memory.keep(kept);
    hold(JSON.stringify(memory.recall()) === text, 'what is kept comes back');
    hold(readdirSync(folder).join() === 'state' && readdirSync(join(folder, 'state')).length === 1, 'its file lies in the folder');
    memory.keep(undefined);
    hold(memory.recall() === undefined, 'what is forgotten is gone');
  });
}

export const restMemories: Door = {
  name: 'remembered places',
  trials: [
    trial('any bytes', anyBytes, recall),
    trial('a place with something wrong in it', fc.oneof(mutatedTree(kept).map((tree) => JSON.stringify(tree) ?? ''), mutatedText(text)), recall, 2),
    each('a place cut off anywhere', beginningsOf(text), recall),
    trial('any name', fc.oneof(oddText, fc.string()), named, 0.5),
    trial('any home', oddText, (home) => hold(stateFolder({ XDG_STATE_HOME: home }).startsWith('/'), 'the folder is told from the top'), 0.5),
  ],
};
