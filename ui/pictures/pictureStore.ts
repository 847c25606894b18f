/** Fetches and decodes pictures off the main thread, a few at a time, and keeps the last ones used. */
export interface PictureStore {
  /** The decoded picture; the same promise while it is kept. Rejects when there is none. */
  get(url: string): Promise<ImageBitmap>;
  /** The decoded picture when it is there already. */
  ready(url: string): ImageBitmap | undefined;
}

interface Kept {
  readonly promise: Promise<ImageBitmap>;
  bitmap: ImageBitmap | undefined;
}

const AT_A_TIME = 4;

/** Fetches one picture, made smaller where asked. */
export async function fetchPicture(url: string, widthPx?: number): Promise<ImageBitmap> {
  const response = await fetch(url);
  if (!response.ok) throw new Error(`no picture at ${url}`);
  const blob = await response.blob();
  return widthPx === undefined ? createImageBitmap(blob) : createImageBitmap(blob, { resizeWidth: widthPx, resizeQuality: 'medium' });
}

/** Runs at most `atATime` tasks at once; the newest waiting one goes first, for it is what is looked at now. */
export function createQueue(atATime: number): <T>(task: () => Promise<T>) => Promise<T> {
  const waiting: (() => void)[] = [];
  let running = 0;
  return async (task) => {
    if (running >= atATime) await new Promise<void>((go) => waiting.push(go));
    running += 1;
    try {
      return await task();
    } finally {
      running -= 1;
      waiting.pop()?.();
    }
  };
}

/** A store of at most `most` pictures; the one unused for longest goes first. */
export function createPictureStore(most: number): PictureStore {
  const kept = new Map<string, Kept>();
  const queue = createQueue(AT_A_TIME);

  const touch = (url: string, entry: Kept): void => {
    kept.delete(url);
    kept.set(url, entry);
    for (const [oldUrl, old] of kept) {
      if (kept.size <= most) return;
      kept.delete(oldUrl);
      void old.promise.then((bitmap) => bitmap.close()).catch(() => undefined);
    }
  };

  const load = (url: string): Kept => {
    const entry: Kept = { promise: queue(() => fetchPicture(url)), bitmap: undefined };
    entry.promise.then(
      (bitmap) => (entry.bitmap = bitmap),
      () => kept.delete(url),
    );
    return entry;
  };

  return {
    get(url) {
      const entry = kept.get(url) ?? load(url);
      touch(url, entry);
      return entry.promise;
    },
    ready(url) {
      const entry = kept.get(url);
      if (entry) touch(url, entry);
      return entry?.bitmap;
    },
  };
}
