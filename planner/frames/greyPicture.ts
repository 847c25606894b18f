/** A picture of one channel, row after row. */
export interface GreyPicture {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly data: ArrayLike<number>;
}
