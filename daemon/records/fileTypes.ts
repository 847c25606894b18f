/** A file that a record names, as it was when the record was made. */
export interface StoredFile {
  /** Relative to the data folder. */
  readonly file: string;
  readonly bytes: number;
  readonly sha256: string;
}
