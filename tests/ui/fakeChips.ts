import type { LayerCall, Terrace } from '../../planner/flakes/types.ts';
import type { Matrix2, StagePoint } from '../../planner/units/index.ts';
import type { ChipView } from '../../daemon/server/messages.ts';

/** An invented tray for browser tests and screenshots: figures and colours are made up and stand for no instrument. */

export const FRAME = { widthPx: 1024, heightPx: 768, pixelUm: 0.37 };
const TURN = (2 * Math.PI) / 180;
/** Rows run downwards and stage y upwards; the camera sits two degrees askew. */
export const CAMERA_TO_STAGE: Matrix2 = [FRAME.pixelUm * Math.cos(TURN), FRAME.pixelUm * Math.sin(TURN), FRAME.pixelUm * Math.sin(TURN), -FRAME.pixelUm * Math.cos(TURN)];

export interface FakeMaterial {
  /** Linear light of bare oxide, red green blue. */
  readonly substrate: readonly [number, number, number];
  /** Contrast of one layer; n layers have 1 - (1 - c)^n. */
  readonly oneLayer: readonly [number, number, number];
}

export interface FakeChip {
  readonly view: ChipView;
  readonly material: FakeMaterial;
}

export interface FakeFlake {
  readonly id: string;
  readonly chip: string;
  readonly terraces: readonly { readonly layers: number; readonly outlineUm: readonly StagePoint[]; readonly inscribedUm: number }[];
  readonly centreUm: StagePoint;
}

export interface FakeDirt {
  readonly centreUm: StagePoint;
  readonly radiusUm: number;
  readonly level: number;
}

/** Mulberry32, public domain: enough for an invented tray. */
export function seeded(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = Math.imul(state ^ (state >>> 15), state | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296;
  };
}

const GRAPHENE_290: FakeMaterial = { substrate: [0.2, 0.185, 0.42], oneLayer: [0.055, 0.07, 0.02] };
const MOS2_90: FakeMaterial = { substrate: [0.17, 0.15, 0.36], oneLayer: [0.3, 0.06, -0.09] };

function rectangle(cx: number, cy: number, w: number, h: number, deg: number): StagePoint[] {
  const [c, s] = [Math.cos((deg * Math.PI) / 180), Math.sin((deg * Math.PI) / 180)];
  return [[-1, -1], [1, -1], [1, 1], [-1, 1]].map(([u = 0, v = 0]) => ({ xUm: cx + (u * w * c) / 2 - (v * h * s) / 2, yUm: cy + (u * w * s) / 2 + (v * h * c) / 2 }));
}

function chip(name: string, material: string, oxideNm: number, cx: number, cy: number, deg: number, size = 3000): ChipView {
  const outlineUm = rectangle(cx, cy, size * 1.06, size, deg);
  const origin = outlineUm[0] ?? { xUm: cx, yUm: cy };
  return { name, material, oxideNm, outlineUm, originUm: origin, angleDeg: deg, tiles: 0, tilesDone: 0 };
}

/** Three chips side by side, each a little turned. */
export function fakeChips(): readonly FakeChip[] {
  return [
    { view: chip('K-07', 'graphene', 290, 9000, 20_000, 3), material: GRAPHENE_290 },
    { view: chip('K-08', 'graphene', 290, 12_900, 20_150, -2), material: { ...GRAPHENE_290, substrate: [0.185, 0.18, 0.4] } },
    { view: chip('B-02', 'mos2', 90, 16_800, 19_900, 5), material: MOS2_90 },
  ];
}

export function contrastOf(material: FakeMaterial, layers: number): readonly number[] {
  return material.oneLayer.map((c) => 1 - (1 - c) ** layers);
}

function crystal(random: () => number, at: StagePoint, radius: number): StagePoint[] {
  const corners = 4 + Math.floor(random() * 4);
  const start = random() * Math.PI;
  return Array.from({ length: corners }, (_, i) => {
    const angle = start + ((i + 0.35 * (random() - 0.5)) * 2 * Math.PI) / corners;
    const r = radius * (0.7 + 0.45 * random());
    return { xUm: at.xUm + r * Math.cos(angle), yUm: at.yUm + 0.8 * r * Math.sin(angle) };
  });
}

/** Flakes with one or two terraces; K-08 is a dirty chip that has none. */
export function fakeFlakes(chips: readonly FakeChip[], perChip: number, random: () => number): readonly FakeFlake[] {
  return chips.flatMap(({ view }) => (view.name === 'K-08' ? [] : Array.from({ length: perChip }, (_, n) => oneFlake(view, n, random))));
}

function inChip(view: ChipView, random: () => number, share: number): StagePoint {
  const [a, b, , d] = view.outlineUm;
  if (!a || !b || !d) return { xUm: 0, yUm: 0 };
  const u = 0.5 + (random() - 0.5) * share;
  const v = 0.5 + (random() - 0.5) * share;
  return { xUm: a.xUm + u * (b.xUm - a.xUm) + v * (d.xUm - a.xUm), yUm: a.yUm + u * (b.yUm - a.yUm) + v * (d.yUm - a.yUm) };
}

function oneFlake(view: ChipView, n: number, random: () => number): FakeFlake {
  const centreUm = inChip(view, random, 0.76);
  const radius = 6 + 22 * random() ** 2;
  const layers = 1 + Math.floor(random() ** 2 * 10);
  const base = { layers, outlineUm: crystal(random, centreUm, radius), inscribedUm: radius * 1.15 };
  const id = `${view.name}.${String(n + 1).padStart(2, '0')}`;
  if (random() < 0.5) return { id, chip: view.name, terraces: [base], centreUm };
  const on = { xUm: centreUm.xUm + radius * 0.2, yUm: centreUm.yUm - radius * 0.15 };
  const top = { layers: layers + 1 + Math.floor(random() * 2), outlineUm: crystal(random, on, radius * 0.42), inscribedUm: radius * 0.5 };
  return { id, chip: view.name, terraces: [base, top], centreUm };
}

export function fakeDirt(chips: readonly FakeChip[], perChip: number, random: () => number): readonly FakeDirt[] {
  return chips.flatMap(({ view }) =>
    Array.from({ length: view.name === 'K-08' ? perChip * 3 : perChip }, () => ({ centreUm: inChip(view, random, 0.98), radiusUm: 1.5 + 9 * random() ** 3, level: random() < 0.3 ? 1.6 : 0.35 })),
  );
}

function areaUm2(outline: readonly StagePoint[]): number {
  let twice = 0;
  outline.forEach((a, i) => {
    const b = outline[(i + 1) % outline.length] ?? a;
    twice += a.xUm * b.yUm - b.xUm * a.yUm;
  });
  return Math.abs(twice) / 2;
}

function call(layers: number, random: () => number): LayerCall {
  const counted = layers <= 10;
  const probability = 0.86 + 0.137 * random();
  const probabilities = Array.from({ length: 12 }, (_, n) => (n === Math.min(layers, 11) ? probability : n === Math.min(layers, 11) + 1 ? 1 - probability : 0));
  return { layers: counted ? layers : null, probability, probabilities, misfit: 1 + random() };
}

/** What a classifier might have measured of a terrace. */
export function fakeTerraces(flake: FakeFlake, material: FakeMaterial, random: () => number): readonly Terrace[] {
  return flake.terraces.map(({ layers, outlineUm, inscribedUm }) => ({
    outlineUm,
    areaUm2: areaUm2(outlineUm),
    contrast: contrastOf(material, layers).map((c) => c + 0.006 * (random() - 0.5)),
    contrastError: [0.003, 0.0025, 0.004],
    edgeWidthRatio: 1.1,
    unevenness: 1.05,
    inscribedUm,
    inscribedCentreUm: flake.centreUm,
    saturatedShare: 0,
    call: call(layers, random),
  }));
}
