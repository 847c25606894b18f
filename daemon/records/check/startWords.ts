import { counted } from '../../errors/index.ts';
import type { RunState } from '../types.ts';

/** What a start found and did. Files are relative to the data folder. */
export interface StartReport {
  /** The state that the night was in when its process ended; undefined when it had come to an end of its own. */
  readonly cutOff: RunState | undefined;
  /** Halves that were deleted. */
  readonly removed: readonly string[];
  /** Whole files that no record names, moved below the night's folder `aside`. */
  readonly setAside: readonly string[];
  /** What could be neither removed nor moved. */
  readonly failed: readonly string[];
  /** Folders that could not be synced, absolute. */
  readonly unsynced: readonly string[];
  /** Named by a record, not on the disk. */
  readonly missing: readonly string[];
  /** On the disk, not as long as recorded. */
  readonly otherSize: readonly string[];
}

interface StartSentence {
  readonly kind: 'run' | 'trouble';
  readonly text: string;
  /** True of every start until somebody mends it. */
  readonly isLasting: boolean;
}

function first(files: readonly string[]): string {
  const [name] = files;
  return files.length === 1 ? `${name}` : `the first of them ${name}`;
}

const look = 'What was measured from them is kept. `nightjar verify` names all of them; put them back from a copy if there is one.';

/** What people should know of a start, as events of the night; nothing when all was in order. */
export function startSentences({ cutOff, removed, setAside, failed, missing, otherSize }: StartReport, { tiles, of }: { readonly tiles: number; readonly of: number }): readonly StartSentence[] {
  const trouble = (files: readonly string[], text: string): readonly StartSentence[] => (files.length === 0 ? [] : [{ kind: 'trouble', text, isLasting: true }]);
  const unrecorded = removed.length + setAside.length;
  return [
    ...(cutOff === undefined
      ? []
      : [{ kind: 'trouble', text: `The night was cut off while it was ${cutOff}, with ${tiles} of ${of} tiles recorded: nobody made the instrument safe. Look whether the objective is low and the lamp on.`, isLasting: false } as const]),
    ...(unrecorded === 0
      ? []
      : [{ kind: 'run', text: `Pictures that were under way are not recorded and will be taken again: ${removed.length} written by halves removed, ${setAside.length} whole ones set aside.`, isLasting: false } as const]),
    ...trouble(failed, `${counted(failed.length, 'file')} that no record names could not be moved out of the way: ${first(failed)}. Check who may write to the folder.`),
    ...trouble(missing, `${counted(missing.length, 'recorded picture is', 'recorded pictures are')} not on the disk any more: ${first(missing)}. ${look}`),
    ...trouble(otherSize, `${counted(otherSize.length, 'recorded picture has', 'recorded pictures have')} not the recorded size: ${first(otherSize)}. ${look}`),
  ];
}
