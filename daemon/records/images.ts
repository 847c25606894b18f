/** Pictures and other files of the records, without the database: what the classifier's workers need. */
export { diskFreeBytes } from './diskSpace.ts';
export { toDisplayRgb8 } from './display.ts';
export type { DisplayOptions, Picture } from './display.ts';
export { binFor, encodeCrop, encodeMapPicture, encodePictureCrop, regionWithin } from './encode.ts';
export { fillDisk, writeDurably } from './writeDurably.ts';
export type { WriteBytes } from './writeDurably.ts';
