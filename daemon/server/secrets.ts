/**
 * Where secrets come from: bytes that nobody can foresee. Passed in like the clock, so that tests can say what they are; the
 * real source is systemSecrets.ts.
 */
export interface Secrets {
  bytes(count: number): Buffer;
}
