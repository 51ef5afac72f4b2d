// Pure: sums and comparisons of volumes in whole nanolitres, so that exactly a limit is exactly it.

const NL_PER_ML = 1000000;

/** A volume in mL as whole nanolitres. */
export const nanolitres = (ml) => Math.floor(ml * NL_PER_ML + 0.5);

/** Whole nanolitres as mL. */
export const inMl = (volume) => volume / NL_PER_ML;

/** Reports whether a volume is less than so many percent of another; exactly that share is not less. */
export const isUnderPercent = (partMl, wholeMl, percent) => nanolitres(partMl) * 100 < nanolitres(wholeMl) * percent;
