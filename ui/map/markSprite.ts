import { layerLabel, layerTone } from '../layerRamp.ts';
import type { LayerMark } from '../layerRamp.ts';
import { FONT } from './ink.ts';

/** Side of a mark with its two casings, css px. */
export const MARK_PX = 24;
export const DOT_PX = 11;

const sprites = new Map<string, HTMLCanvasElement>();

function newCanvas(side: number, pixelRatio: number): CanvasRenderingContext2D | undefined {
  const canvas = document.createElement('canvas');
  canvas.width = Math.ceil(side * pixelRatio);
  canvas.height = canvas.width;
  const context = canvas.getContext('2d') ?? undefined;
  context?.scale(pixelRatio, pixelRatio);
  return context;
}

/** Diagonal lines over what is too thick to count: told apart without colour. */
function hatch(context: CanvasRenderingContext2D, colour: string): void {
  context.save();
  context.beginPath();
  context.rect(3, 3, MARK_PX - 6, MARK_PX - 6);
  context.clip();
  context.strokeStyle = colour;
  context.globalAlpha = 0.35;
  for (let x = -MARK_PX; x < MARK_PX; x += 5) {
    context.beginPath();
    context.moveTo(x, MARK_PX);
    context.lineTo(x + MARK_PX, 0);
    context.stroke();
  }
  context.restore();
}

function drawMark(context: CanvasRenderingContext2D, mark: LayerMark): void {
  const tone = layerTone(mark);
  const box = (inset: number, colour: string, radius: number): void => {
    context.beginPath();
    context.roundRect(inset, inset, MARK_PX - 2 * inset, MARK_PX - 2 * inset, radius);
    context.fillStyle = colour;
    context.fill();
  };
  box(0.5, tone.outer, 4.5);
  box(1.5, tone.casing, 4);
  box(3, tone.fill, 2.5);
  if (mark === 'thick') hatch(context, tone.casing);
  const label = layerLabel(mark);
  context.fillStyle = tone.ink;
  context.font = `700 ${label.length > 2 ? 10 : label.length > 1 ? 12.5 : 14}px ${FONT}`;
  context.textAlign = 'center';
  context.textBaseline = 'middle';
  context.fillText(label, MARK_PX / 2, MARK_PX / 2 + 1);
}

function drawDot(context: CanvasRenderingContext2D, mark: LayerMark): void {
  const tone = layerTone(mark);
  const disc = (radius: number, colour: string): void => {
    context.beginPath();
    context.arc(DOT_PX / 2, DOT_PX / 2, radius, 0, 2 * Math.PI);
    context.fillStyle = colour;
    context.fill();
  };
  disc(5.4, tone.outer);
  disc(4.4, tone.casing);
  disc(3, tone.fill);
}

/** A mark with its number, or the plain dot that stands for one where there is no room; drawn once and kept. */
export function markSprite(mark: LayerMark, shape: 'mark' | 'dot', pixelRatio: number): HTMLCanvasElement | undefined {
  const key = `${mark} ${shape} ${pixelRatio}`;
  const known = sprites.get(key);
  if (known) return known;
  const context = newCanvas(shape === 'mark' ? MARK_PX : DOT_PX, pixelRatio);
  if (!context) return undefined;
  if (shape === 'mark') drawMark(context, mark);
  else drawDot(context, mark);
  sprites.set(key, context.canvas);
  return context.canvas;
}

/** Sprites drawn before the font had come would keep the wrong one. */
export function forgetSprites(): void {
  sprites.clear();
}
