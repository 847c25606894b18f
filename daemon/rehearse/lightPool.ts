import type { FrameJob, FrameJobResult } from '../classify/job.ts';
import type { FramePool } from '../classify/pool.ts';
import { cellsOf, type Cells } from '../vision/cells.ts';
import { lightFault } from '../vision/faults.ts';
import { linearTable } from '../vision/linearise.ts';
import { samplesOf } from '../vision/samples.ts';
import { median } from '../vision/statistics.ts';
import type { FrameMeasurement } from '../vision/types.ts';

/** Stands for a tile's map picture, which nobody looks at: a file is written for it all the same, as on the night. */
const noPicture = new Uint8Array([0]);

/**
 * Reads the light of frames and nothing else: whether a frame is black, full or empty, and how bright most of it is. For rehearsals, whose
 * flakes are invented: what is rehearsed is the night around them, in seconds.
 */
export function lightPool(pool: Pick<FramePool, 'fit' | 'close'>): FramePool {
  return { run: async (job) => lightOf(job), fit: (request) => pool.fit(request), close: () => pool.close() };
}

function lightOf({ input: { frame, optics } }: FrameJob): FrameJobResult {
  const samples = samplesOf(frame);
  const cells = cellsOf(samples, linearTable(optics.transfer, samples.fullScale), optics.dark);
  const fault = lightFault(samples, cells);
  return { measurement: { ...(fault ? { fault } : {}), ...nothingFound(cells) }, mapPicture: noPicture, detectionPictures: [] };
}

function nothingFound(cells: Cells): FrameMeasurement {
  const { columns, rows, channels, mean } = cells;
  const levels = Array.from({ length: channels }, (_, c) => median(mean.filter((_value, i) => i % channels === c)));
  return {
    substrate: levels,
    noise: levels.map(() => 0.01),
    substrateShare: 1,
    sharpness: 1,
    detections: [],
    outliers: new Int32Array(0),
    coarse: { columns, rows, channels, values: Float32Array.from(mean) },
  };
}
