import OlMap from 'ol/Map.js';
import View from 'ol/View.js';
import { boundingExtent, buffer, getCenter } from 'ol/extent.js';
import type { Extent } from 'ol/extent.js';
import { defaults as defaultInteractions } from 'ol/interaction/defaults.js';
import Layer from 'ol/layer/Layer.js';
import type { FrameState } from 'ol/Map.js';
import Projection from 'ol/proj/Projection.js';
import type { ChipView, FlakeView, RunView } from '../../daemon/server/messages.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import type { NightView } from '../state/night.ts';
import { FlakePainter } from './flakePainter.ts';
import { forgetSprites } from './markSprite.ts';
import { PlanPainter } from './planPainter.ts';
import { TilePainter } from './tilePainter.ts';
import type { MapFrame } from './view.ts';

export interface TrayMapOptions {
  readonly target: HTMLElement;
  readonly onChoose: (flakeId: string) => void;
  readonly onResolution: (umPerPx: number) => void;
  /** The person moved the map: it should no longer follow. */
  readonly onMovedByHand: () => void;
  /** How long a flight takes, ms; 0 under reduced motion. */
  readonly calmMs: () => number;
}

/** What lies over the map's right side, css px: flights keep clear of it. */
export interface Covered {
  readonly rightPx: number;
}

/** How the map is to look beside what it shows. */
export interface MapMood {
  readonly chosen: string | null;
  readonly lost: boolean;
  /** Layer numbers are hidden. */
  readonly veiled: boolean;
}

/** Stage um as a map projection: flat, x to the right, y up. */
const STAGE = new Projection({ code: 'nightjar:stage-um', units: 'm', metersPerUnit: 1e-6, axisOrientation: 'enu' });
/** So many screen px a camera pixel may be drawn large. */
const LARGEST_PIXEL = 6;
/** How far beyond the chips the map may be moved, as a share of their extent. */
const BEYOND = 0.25;
const WHOLE_PADDING_PX = 56;
/** A place counts as in view when it is at least this share of the view away from its edge. */
const COMFORT = 0.14;

/** The zoomable map of the tray. OpenLayers moves and zooms; what is seen is painted on one canvas, in the order of paint(). */
export class TrayMap {
  private readonly map: OlMap;
  private readonly layer: Layer;
  private readonly tiles = new TilePainter(() => this.layer.changed());
  private readonly plan = new PlanPainter();
  private readonly flakes = new FlakePainter();
  private readonly canvas = document.createElement('canvas');
  private readonly options: TrayMapOptions;
  private night: NightView | undefined;
  private chosen: string | null = null;
  private lost = false;
  private veiled = false;
  private shownRun: string | undefined;

  constructor(options: TrayMapOptions) {
    this.options = options;
    this.canvas.className = 'map-canvas';
    this.layer = new Layer({ render: (state) => this.render(state) });
    this.map = new OlMap({ target: options.target, controls: [], interactions: defaultInteractions({ altShiftDragRotate: false, pinchRotate: false, keyboard: false }), layers: [this.layer] });
    this.map.on('singleclick', (event) => {
      const [x = 0, y = 0] = event.pixel;
      const id = this.flakes.at(x, y);
      if (id !== undefined) options.onChoose(id);
    });
    this.map.on('pointerdrag', () => options.onMovedByHand());
    this.map.on('pointermove', (event) => {
      const [x = 0, y = 0] = event.pixel;
      options.target.classList.toggle('over-flake', !event.dragging && this.flakes.at(x, y) !== undefined);
    });
    void document.fonts.ready.then(() => {
      forgetSprites();
      this.layer.changed();
    });
  }

  /** Shows the night as it now is; a new run is shown whole, the same run stays where it is. */
  show(night: NightView, list: readonly FlakeView[], { chosen, lost, veiled }: MapMood): void {
    this.night = night;
    this.chosen = chosen;
    this.lost = lost;
    this.veiled = veiled;
    this.tiles.update(night.run, night.tiles);
    this.plan.update(night.run, night.tiles);
    this.flakes.update(list);
    if (night.run && night.run.runId !== this.shownRun) this.begin(night.run);
    this.layer.changed();
  }

  zoom(factor: number): void {
    this.options.onMovedByHand();
    const view = this.map.getView();
    view.cancelAnimations();
    view.animate({ resolution: (view.getResolution() ?? 1) / factor, duration: this.options.calmMs() });
  }

  /** Moves by a share of what is seen. */
  pan(right: number, up: number): void {
    this.options.onMovedByHand();
    const [width = 0, height = 0] = this.map.getSize() ?? [];
    const [x = 0, y = 0] = this.map.getView().getCenter() ?? [];
    const resolution = this.map.getView().getResolution() ?? 1;
    this.flyTo(x + right * width * resolution, y + up * height * resolution);
  }

  /** Shows the whole tray, or the whole of one chip. */
  whole(covered: Covered, chipName?: string): void {
    const chips = this.night?.run?.chips.filter((chip) => chipName === undefined || chip.name === chipName) ?? [];
    if (chips.length === 0) return;
    this.options.onMovedByHand();
    this.fit(extentOf(chips), covered, this.options.calmMs());
  }

  /** Brings a place into view: not at all when it is comfortably there, else to the middle of what is not covered. */
  bring(point: StagePoint, covered: Covered): void {
    const [width = 0, height = 0] = this.map.getSize() ?? [];
    const view = this.map.getView();
    const resolution = view.getResolution() ?? 1;
    const [x = 0, y = 0] = view.getCenter() ?? [];
    const free = Math.max(width * 0.2, width - covered.rightPx);
    const atX = width / 2 + (point.xUm - x) / resolution;
    const atY = height / 2 - (point.yUm - y) / resolution;
    const inside = (at: number, size: number): boolean => at > size * COMFORT && at < size * (1 - COMFORT);
    if (inside(atX, free) && inside(atY, height)) return;
    this.flyTo(point.xUm + ((width - free) / 2) * resolution, point.yUm);
  }

  dispose(): void {
    this.map.setTarget(undefined);
    this.map.dispose();
  }

  private flyTo(xUm: number, yUm: number): void {
    const view = this.map.getView();
    view.cancelAnimations();
    view.animate({ center: [xUm, yUm], duration: this.options.calmMs() });
  }

  private begin(run: RunView): void {
    this.shownRun = run.runId;
    const extent = extentOf(run.chips);
    const beyond = Math.max((extent[2] ?? 0) - (extent[0] ?? 0), (extent[3] ?? 0) - (extent[1] ?? 0)) * BEYOND;
    const view = new View({ projection: STAGE, center: getCenter(extent), resolution: 1, minResolution: run.fieldWidthUm / run.frameWidthPx / LARGEST_PIXEL, maxResolution: 1e4, extent: buffer(extent, beyond), constrainOnlyCenter: true, showFullExtent: true, enableRotation: false });
    view.on('change:resolution', () => this.options.onResolution(view.getResolution() ?? 1));
    this.map.setView(view);
    this.fit(extent, { rightPx: 0 }, 0);
    this.options.onResolution(view.getResolution() ?? 1);
  }

  private fit(extent: Extent, covered: Covered, duration: number): void {
    const [width = 0] = this.map.getSize() ?? [];
    const right = covered.rightPx < width * 0.8 ? covered.rightPx : 0;
    this.map.getView().fit(extent, { padding: [WHOLE_PADDING_PX, WHOLE_PADDING_PX + right, WHOLE_PADDING_PX + 24, WHOLE_PADDING_PX], duration });
  }

  private render(state: FrameState): HTMLElement {
    const [width = 0, height = 0] = state.size;
    const { canvas } = this;
    const context = canvas.getContext('2d');
    const deviceWidth = Math.round(width * state.pixelRatio);
    const deviceHeight = Math.round(height * state.pixelRatio);
    if (canvas.width !== deviceWidth || canvas.height !== deviceHeight) {
      canvas.width = deviceWidth;
      canvas.height = deviceHeight;
    }
    const [xUm = 0, yUm = 0] = state.viewState.center;
    if (context) this.paint({ context, width, height, resolution: state.viewState.resolution, centreUm: { xUm, yUm }, pixelRatio: state.pixelRatio });
    return canvas;
  }

  private paint(frame: MapFrame): void {
    frame.context.setTransform(1, 0, 0, 1, 0, 0);
    frame.context.clearRect(0, 0, frame.context.canvas.width, frame.context.canvas.height);
    this.plan.paintBelow(frame);
    this.tiles.paint(frame);
    this.plan.paintAbove(frame, this.nowTile(), this.lost);
    this.flakes.paint(frame, this.chosen, this.veiled);
  }

  /** The tile under the camera, while there is one: after the end there is none. */
  private nowTile(): number | undefined {
    const progress = this.night?.progress;
    return progress && progress.state !== 'finished' && progress.state !== 'failed' ? progress.nowTile : undefined;
  }
}

function extentOf(chips: readonly ChipView[]): Extent {
  return boundingExtent(chips.flatMap((chip) => chip.outlineUm.map((p) => [p.xUm, p.yUm])));
}
