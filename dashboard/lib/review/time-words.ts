/** Finest step of an edit, s: two samples at 100 Hz. */
export const FINEST_S = 0.02

/** On the grid of the finest step, without the tails of binary fractions. */
export const onFinestGrid = (atS: number): number => Math.round(Math.round(atS / FINEST_S) * 2) / 100

/** Seconds as `m:ss.s`, with a second decimal only where there is one. */
export function timeWords(atS: number): string {
  const hundredths = Math.max(0, Math.round(atS * 100))
  const minutes = Math.floor(hundredths / 6000)
  const digits = hundredths % 10 === 0 ? 1 : 2
  const seconds = ((hundredths % 6000) / 100).toFixed(digits).padStart(digits + 3, '0')
  return `${minutes}:${seconds}`
}

/** The last moment an edit may name, on the finest grid: picture and summary may end a sample apart. */
export const lastMomentS = (pictureS: number, summaryS: number | null): number =>
  Math.floor((Math.min(pictureS, summaryS ?? pictureS) + 1e-9) / FINEST_S) / 50
