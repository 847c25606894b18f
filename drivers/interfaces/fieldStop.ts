/**
 * The field stop of the reflected-light illuminator, where it is motorised. Its opening is the radius of the lit circle over half the
 * field's diagonal: 1 lights the whole field, less darkens its rim with an edge that can be focused on.
 */
export interface FieldStop {
  opening(): Promise<number>;
  /** Resolves when it stands. Rejects with `limit` outside of 0 to 1, `timeout`, `disconnected`. */
  setOpening(fraction: number): Promise<void>;
  close(): Promise<void>;
}
