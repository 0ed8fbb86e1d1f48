import type { HoldDetail } from '#protocol/resources'

type Picture = NonNullable<HoldDetail['timeFrequency']>

/** Shades of the picture, from hardly anything to the strongest; more could not be told apart. */
export const SHADES = 8
/** Powers of ten from the lightest shade to the darkest: as much as the spectrum beside it shows of a dog. */
const DECADES = 4
const MOST_ROWS = 24

/** A shade per cell, `-1` below the lightest one; shape as `levels`. */
export function shadesOf({ levels }: Pick<Picture, 'levels'>): { topLevel: number; shades: number[][] } {
  const topLevel = levels.reduce((most, row) => row.reduce((a, b) => Math.max(a, b), most), -Infinity)
  const shade = (level: number) =>
    Math.max(-1, SHADES - 1 - Math.floor(((topLevel - level) / DECADES) * SHADES))
  return { topLevel, shades: levels.map((row) => row.map(shade)) }
}

/**
 * One SVG path per shade. `column` and `row` give the left and right, upper and lower edge of a cell; neighbours of
 * one shade in a column are drawn as one.
 */
export function shadePaths(
  shades: readonly (readonly number[])[],
  column: (window: number) => readonly [number, number],
  row: (bin: number) => readonly [number, number],
): string[] {
  const paths = Array.from({ length: SHADES }, () => '')
  shades.forEach((bins, window) => {
    const [left, right] = column(window)
    for (let from = 0; from < bins.length;) {
      let to = from + 1
      while (to < bins.length && bins[to] === bins[from]) to++
      if (bins[from] >= 0) {
        const top = row(to - 1)[0]
        const bottom = row(from)[1]
        paths[bins[from]] += `M${px(left)} ${px(top)}H${px(right)}V${px(bottom)}H${px(left)}z`
      }
      from = to
    }
  })
  return paths
}

const px = (value: number) => value.toFixed(1)

/** What the picture shows as numbers: when, and which frequency was the strongest; at most some two dozen rows. */
export function strongestRows({ fromS, stepS, frequencyHz, levels }: Picture): {
  atS: number
  hz: number
  level: number
}[] {
  const every = Math.ceil(levels.length / MOST_ROWS)
  return levels.flatMap((row, k) => {
    if (k % every !== 0) return []
    const best = row.reduce((most, level, bin) => (level > row[most] ? bin : most), 0)
    return [{ atS: fromS + k * stepS, hz: frequencyHz[best], level: row[best] }]
  })
}
