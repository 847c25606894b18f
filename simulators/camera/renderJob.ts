import type { RenderedFrame, RenderRequest } from './renderFrame.ts';

/** What goes to a render worker. */
export interface RenderJob {
  readonly id: number;
  readonly request: RenderRequest;
}

/** What comes back. */
export type RenderAnswer = { readonly id: number; readonly frame: RenderedFrame } | { readonly id: number; readonly problem: string };
