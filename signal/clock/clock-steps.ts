import type { Arrival } from './lower-hull.ts'

/** The earliest arrival of each so many seconds stands for them; stalls are shorter as a rule. */
const WINDOW_S = 5
/** A step is at least this large, s, … */
const MIN_STEP_S = 0.05
/** … and this many times the usual difference between neighbouring windows. */
const STEP_RATIO = 6

/** The arrivals of one level of a stamping clock. */
export interface Level {
  readonly index: Float64Array
  readonly arrivedS: Float64Array
  /** Steps between neighbouring windows, to another level and back. */
  readonly steps: number
  /** The earliest arrival of each window of the level, relative to the nominal rate. */
  readonly minima: readonly Arrival[]
}

interface Window {
  /** Arrivals [from, to). */
  readonly from: number
  readonly to: number
  readonly index: number
  /** Arrival of its earliest packet less index ÷ nominal rate, s. */
  readonly delayS: number
  readonly arrivedS: number
}

/**
 * The arrivals that agree with most others on what time it is. A clock that is set forward or back moves
 * all arrivals from then on; a link that is cut for long does so until it is back. Both show as steps in the
 * least delay of 5 s windows, once a steady drift (their median difference) is taken off. Windows between
 * steps are put together when they stand on one level; the level with the most arrivals is given whole.
 * Steps below 50 ms, or hidden in the jitter of the link, are not seen.
 */
export function levelWithMost(
  index: ArrayLike<number>,
  arrivedS: ArrayLike<number>,
  nominalRateHz: number,
): Level {
  const windows = windowsOf(index, arrivedS, nominalRateHz)
  const slope = median(
    windows.slice(1).map((w, i) => (w.delayS - windows[i].delayS) / (w.index - windows[i].index)),
  )
  const level = windows.map((w) => w.delayS - slope * (w.index - windows[0].index))
  const differences = level.slice(1).map((delayS, i) => Math.abs(delayS - level[i]))
  const limitS = Math.max(MIN_STEP_S, STEP_RATIO * median(differences))
  const runs: { windows: Window[]; levelS: number[] }[] = []
  windows.forEach((window, i) => {
    if (i === 0 || differences[i - 1] > limitS) runs.push({ windows: [], levelS: [] })
    const run = runs[runs.length - 1]
    run.windows.push(window)
    run.levelS.push(level[i])
  })
  const groups: { windows: Window[]; levelS: number; packets: number }[] = []
  for (const run of runs) {
    const levelS = median(run.levelS)
    let group = groups.find((one) => Math.abs(one.levelS - levelS) <= limitS)
    if (!group) groups.push((group = { windows: [], levelS, packets: 0 }))
    group.windows.push(...run.windows)
    group.packets += run.windows.reduce((sum, { from, to }) => sum + to - from, 0)
  }
  const most = groups.reduce((best, group) => (group.packets > best.packets ? group : best))
  const kept = most.windows.flatMap(({ from, to }) => Array.from({ length: to - from }, (_, i) => from + i))
  return {
    index: Float64Array.from(kept, (i) => index[i]),
    arrivedS: Float64Array.from(kept, (i) => arrivedS[i]),
    steps: runs.length - 1,
    minima: most.windows,
  }
}

function windowsOf(index: ArrayLike<number>, arrivedS: ArrayLike<number>, nominalRateHz: number): Window[] {
  const length = WINDOW_S * nominalRateHz
  const bounds: number[] = []
  for (let i = 0; i < index.length; i++) {
    if (i === 0 || Math.floor(index[i] / length) > Math.floor(index[i - 1] / length)) bounds.push(i)
  }
  // The last window is cut short: a few packets may all be late, and go with those before.
  if (bounds.length > 1 && index[index.length - 1] - index[bounds[bounds.length - 1]] < length / 2)
    bounds.pop()
  return bounds.map((from, k) => {
    const to = bounds[k + 1] ?? index.length
    let least = from
    const delayOf = (i: number) => arrivedS[i] - index[i] / nominalRateHz
    for (let i = from; i < to; i++) if (delayOf(i) < delayOf(least)) least = i
    return { from, to, index: index[least], delayS: delayOf(least), arrivedS: arrivedS[least] }
  })
}

/** 0 for none. */
function median(values: readonly number[]): number {
  return values.length === 0 ? 0 : [...values].sort((a, b) => a - b)[values.length >> 1]
}
