/** A step between events longer than this loses what a tremor does in between, ms; as for recordings. */
export const LONG_STEP_MS = 50
/** With more long steps than this the phone cannot be used. */
export const MAX_LONG_SHARE = 0.05

/** Share of the steps between stamps that are longer than 50 ms, 0..1; 0 with fewer than two stamps. */
export function longStepShare(stampsMs: readonly number[]): number {
  if (stampsMs.length < 2) return 0
  let long = 0
  for (let i = 1; i < stampsMs.length; i++) if (stampsMs[i] - stampsMs[i - 1] > LONG_STEP_MS) long++
  return long / (stampsMs.length - 1)
}

/** What to tell about it. */
export function unevenWords(share: number): string {
  return (
    `This phone delivers its motion data too unevenly: ${Math.round(share * 100)} % of the steps between ` +
    'them are longer than 50 ms. Close other apps, switch battery saving off, and try again.'
  )
}
