import type { FlakeView } from '../../daemon/server/messages.ts';
import { terraceMark } from '../chart/lanes.ts';
import { layerTone } from '../layerRamp.ts';
import { boxOf } from '../pictures/pose.ts';
import { markOf } from '../state/flakeList.ts';
import { uncovered } from './declutter.ts';
import type { Spot } from './declutter.ts';
import { INK } from './ink.ts';
import { DOT_PX, MARK_PX, markSprite } from './markSprite.ts';
import { addPolygon, toScreen, useScreen, useStage } from './view.ts';
import type { MapFrame } from './view.ts';

interface Placed extends Spot {
  readonly view: FlakeView;
  /** Half the flake's size on the screen. */
  readonly reach: number;
}

/** From this size on the screen a flake's terraces are drawn. */
const OUTLINE_FROM_PX = 18;
/** A pointer need not be nearer than this. */
const HIT_PX = 15;

/** Flakes: marks with the layer number from afar, terraces from near, the mark then standing beside its flake. */
export class FlakePainter {
  private list: readonly FlakeView[] = [];
  private readonly spans = new WeakMap<FlakeView, number>();
  private placed: readonly Placed[] = [];

  /** Takes what is to be shown, best first. */
  update(list: readonly FlakeView[]): void {
    this.list = list;
  }

  /** @param veiled marks and outlines say nothing of layer numbers */
  paint(frame: MapFrame, chosen: string | null, veiled: boolean): void {
    this.placed = this.list.flatMap((view) => this.place(frame, view));
    useStage(frame);
    for (const { view, reach } of this.placed) if (reach * 2 > OUTLINE_FROM_PX) paintTerraces(frame, view, veiled);
    useScreen(frame);
    const first = this.placed.filter((spot) => spot.view.flake.id === chosen);
    // What was rejected has no number to show: from afar a dot says where it is.
    const numbered = this.placed.filter((spot) => spot.view.flake.verdict !== 'rejected' || spot.reach > 0);
    const withNumber = uncovered([...first, ...numbered], MARK_PX);
    for (const spot of this.placed) if (!withNumber.has(spot)) paintSprite(frame, spot, 'dot', veiled);
    for (const spot of [...this.placed].reverse()) if (withNumber.has(spot)) paintSprite(frame, spot, 'mark', veiled);
    for (const spot of first) paintChosen(frame, spot);
  }

  /** The flake whose mark, or whose own area, is at this place of the screen; the best one of several. */
  at(x: number, y: number): string | undefined {
    let best: { readonly id: string; readonly distance: number } | undefined;
    for (const spot of this.placed) {
      const onMark = Math.hypot(spot.x - x, spot.y - y);
      const near = onMark <= HIT_PX || Math.hypot(spot.x - spot.reach - MARK_PX / 2 - x, spot.y - y) < spot.reach;
      if (near && (!best || onMark < best.distance)) best = { id: spot.view.flake.id, distance: onMark };
    }
    return best?.id;
  }

  private place(frame: MapFrame, view: FlakeView): Placed[] {
    const { x, y } = toScreen(frame, view.flake.centreUm);
    let span = this.spans.get(view);
    if (span === undefined) {
      span = boxOf(view.flake.terraces.map((terrace) => terrace.outlineUm))?.spanUm ?? 0;
      this.spans.set(view, span);
    }
    const reach = span / 2 / frame.resolution;
    if (x < -reach - MARK_PX || x > frame.width + reach + MARK_PX || y < -reach - MARK_PX || y > frame.height + reach + MARK_PX) return [];
    const aside = reach * 2 > OUTLINE_FROM_PX;
    return [{ view, reach: aside ? reach : 0, x: aside ? x + reach + MARK_PX * 0.9 : x, y: aside ? y - reach * 0.6 : y }];
  }
}

function paintSprite({ context, pixelRatio }: MapFrame, { view, x, y, reach }: Placed, shape: 'mark' | 'dot', veiled: boolean): void {
  const sprite = markSprite(veiled ? 'hidden' : markOf(view.flake), shape, pixelRatio);
  if (!sprite) return;
  const side = shape === 'mark' ? MARK_PX : DOT_PX;
  if (reach > 0 && shape === 'mark') {
    context.strokeStyle = INK.casingLight;
    context.lineWidth = 1;
    context.beginPath();
    context.moveTo(x - MARK_PX / 2, y);
    context.lineTo(x - MARK_PX * 0.9 + 2, y + reach * 0.2);
    context.stroke();
  }
  context.drawImage(sprite, x - side / 2, y - side / 2, side, side);
}

function paintChosen({ context }: MapFrame, { x, y }: Placed): void {
  const ring = (half: number, width: number, colour: string): void => {
    context.strokeStyle = colour;
    context.lineWidth = width;
    context.beginPath();
    context.roundRect(x - half, y - half, 2 * half, 2 * half, 6);
    context.stroke();
  };
  ring(MARK_PX / 2 + 4, 6, INK.casing);
  ring(MARK_PX / 2 + 4, 2.5, INK.accent);
}

/** Base terrace first, thinner ones on top last: each in its layer's colour with a casing. */
function paintTerraces({ context, resolution }: MapFrame, { flake }: FlakeView, veiled: boolean): void {
  context.lineJoin = 'round';
  for (const terrace of flake.terraces) {
    const tone = layerTone(flake.verdict === 'rejected' ? 'none' : veiled ? 'hidden' : terraceMark(terrace));
    context.beginPath();
    for (const ringUm of [terrace.outlineUm, ...(terrace.holesUm ?? [])]) addPolygon(context, ringUm);
    context.strokeStyle = tone.casing;
    context.lineWidth = 3.6 * resolution;
    context.stroke();
    context.strokeStyle = tone.fill;
    context.lineWidth = 1.8 * resolution;
    context.stroke();
  }
}
