import type { StoredFile } from '../fileTypes.ts';
import type { Problem } from './problem.ts';

/** What the database says, all of it read at one moment. */
export interface Examination {
  readonly problems: readonly Problem[];
  readonly rowsRead: number;
  /** Every file that the records name. */
  readonly files: readonly StoredFile[];
  /** Size of those pictures whose size is recorded. */
  readonly sizes: ReadonlyMap<string, { readonly widthPx: number; readonly heightPx: number }>;
}
