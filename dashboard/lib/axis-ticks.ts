/** Round tick values (1, 2 or 5 times a power of ten apart) covering [low, high], at most `most`. */
export function axisTicks(low: number, high: number, most: number): number[] {
  if (!(high > low)) return [low]
  const rough = (high - low) / Math.max(1, most - 1)
  const power = 10 ** Math.floor(Math.log10(rough))
  const step = [1, 2, 5, 10].map((m) => m * power).find((s) => s >= rough * (1 - 1e-9)) ?? 10 * power
  const ticks: number[] = []
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + step * 1e-9; k++) {
    ticks.push(Number((k * step).toPrecision(12)))
  }
  return ticks
}

/**
 * Ticks of an axis that runs as far to both sides of 0, for a picture of one scale: never fewer than
 * three, so that a scale can be read off.
 */
export function centredTicks(reach: number): number[] {
  const few = axisTicks(-reach, reach, 5)
  return few.length >= 3 ? few : axisTicks(-reach, reach, 9)
}

/** Decimals that tell neighbouring ticks apart. */
export function tickDecimals(ticks: readonly number[]): number {
  if (ticks.length < 2) return 0
  return Math.max(0, -Math.floor(Math.log10(Math.abs(ticks[1] - ticks[0])) + 1e-9))
}

/** Powers of ten from low to high, for a logarithmic axis. */
export function decadeTicks(low: number, high: number): number[] {
  const ticks: number[] = []
  for (let p = Math.ceil(Math.log10(low) - 1e-9); 10 ** p <= high * (1 + 1e-9); p++) ticks.push(10 ** p)
  return ticks
}
