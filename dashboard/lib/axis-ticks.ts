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

/** Powers of ten from low to high, for a logarithmic axis. */
export function decadeTicks(low: number, high: number): number[] {
  const ticks: number[] = []
  for (let p = Math.ceil(Math.log10(low) - 1e-9); 10 ** p <= high * (1 + 1e-9); p++) ticks.push(10 ** p)
  return ticks
}
