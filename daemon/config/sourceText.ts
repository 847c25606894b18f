/** A text and the name under which people know it. */
export interface SourceText {
  readonly text: string;
  readonly file: string;
}
