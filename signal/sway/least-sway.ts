/**
 * Least horizontal sway RMS a sensor with steps of `resolutionMs2` can be said to show, m/s²: twice its
 * rounding noise, step/√12 on each of two axes (Widrow & Kollár, Quantization Noise, 2008, ch. 5; from
 * memory). Below it the figure tells about the steps, not about the dog: a steady dog moves within one
 * step and reads exactly 0. Null when no step is stated.
 */
export function leastSwayMs2(resolutionMs2: number | null): number | null {
  return resolutionMs2 === null ? null : (2 * Math.SQRT2 * resolutionMs2) / Math.sqrt(12)
}
