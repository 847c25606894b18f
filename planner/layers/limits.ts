/** Layer numbers are given one by one up to this; index 11 of the probabilities is everything thicker. */
export const LAYERS_MOST = 10;
/** Farther from every rung than this, in standard errors per channel, is not on the layer curve. */
export const OFF_CURVE = 4;
