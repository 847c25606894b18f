import type { ContrastReport } from '../../planner/optics/index.ts';

/** A report as plain data for scripts: names in place of tables. */
export function contrastJson(report: ContrastReport): object {
  const { request, ...figures } = report;
  const { materialName, oxideNm, numericalAperture, lampName, filter, camera, layers, noise, unevenness, areaUm2, pixelUm } = request;
  return { material: materialName, oxideNm, numericalAperture, lamp: lampName, filter: filter ?? null, camera: camera.name, layers, noise, unevenness, areaUm2, pixelUm, ...figures };
}
