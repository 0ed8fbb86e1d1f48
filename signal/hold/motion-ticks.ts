import { butterworthHighPass, butterworthLowPass } from '../filter/butterworth.ts'
import type { Three } from '../filter/cascade.ts'
import { CausalFilter } from '../filter/causal.ts'
import { SWAY_CUTOFF_HZ, SWAY_FILTER_ORDER } from '../constants.ts'
import { Stretches } from './stretches.ts'
import type { Stretch } from './stretches.ts'
import type { Vector3Series } from '../trace/trace.ts'

/** Length of a tick, s: the hop of the motion windows. */
export const TICK_S = 0.1

/** Missing signal up to this long is bridged for the filter's state only, s; longer restarts it. */
export const BRIDGE_S = 0.25

/** Per tick: sample count, 3 raw sums, 3 low-passed sums, 6 low-passed second moments, high-passed square. */
const FIELDS = 14
const INITIAL_TICKS = 1024
/** Corner and order of the high-pass behind `highPower`: above sway, where paws set down show, Hz. */
const HIGH_PASS_HZ = 4
const HIGH_PASS_ORDER = 2
/** Samples of a series filtered at a time: small enough to stay in the processor's cache. */
const CHUNK = 1024

/**
 * Running sums of a recording in ticks of 0.1 s, all that hold detection needs of the past.
 *
 * Tick k covers the time [k/10, k/10 + 0.1) s of the trace. Sums are kept of the raw acceleration
 * (for the direction of gravity), of the acceleration after a causal 3.5 Hz low-pass (sway and large
 * motion) and of its power after a causal 4 Hz high-pass (paws set down, knocks). Recordings and live streams
 * go through the same object, and the sums are the same whether samples come one by one or as a series, so
 * that what is detected cannot depend on how they were delivered. 112 bytes per tick, 4 MB an hour.
 */
export class MotionTicks {
  readonly rateHz: number
  /** Delay of the causal low-pass at low frequency, s; edges found in low-passed ticks are this late. */
  readonly delayS: number
  private readonly lowPass: readonly [CausalFilter, CausalFilter, CausalFilter]
  private readonly highPass: readonly [CausalFilter, CausalFilter, CausalFilter]
  private sums = new Float64Array(FIELDS * INITIAL_TICKS)
  private lastS = Number.NEGATIVE_INFINITY
  private readonly last = new Float64Array(3)
  private open = 0
  private readonly fiveSeconds = new Stretches()

  /** @throws {RangeError} through the filter design when rateHz is not above 7 Hz */
  constructor(rateHz: number) {
    this.rateHz = rateHz
    const lowPass = butterworthLowPass(SWAY_FILTER_ORDER, SWAY_CUTOFF_HZ, rateHz)
    const highPass = butterworthHighPass(HIGH_PASS_ORDER, HIGH_PASS_HZ, rateHz)
    this.lowPass = [new CausalFilter(lowPass), new CausalFilter(lowPass), new CausalFilter(lowPass)]
    this.highPass = [new CausalFilter(highPass), new CausalFilter(highPass), new CausalFilter(highPass)]
    this.delayS = butterworthDelayS(SWAY_FILTER_ORDER, SWAY_CUTOFF_HZ)
  }

  /** Number of finished ticks: those in which no further sample can fall. */
  get length(): number {
    return this.open
  }

  /** Low-passed value of the newest sample, sensor axes, m/s². */
  readonly lowPassed = new Float64Array(3)

  /** Adds the sample of time `tS` (ascending) in sensor axes, m/s². */
  push(tS: number, x: number, y: number, z: number): void {
    this.bridge(tS, x, y, z)
    const [fx, fy, fz] = this.lowPass
    const [gx, gy, gz] = this.highPass
    const hx = gx.push(x)
    const hy = gy.push(y)
    const hz = gz.push(z)
    const lx = fx.push(x)
    const ly = fy.push(y)
    const lz = fz.push(z)
    this.lowPassed[0] = lx
    this.lowPassed[1] = ly
    this.lowPassed[2] = lz
    const at = this.tickOffset(tS)
    const s = this.sums
    s[at] += 1
    s[at + 1] += x
    s[at + 2] += y
    s[at + 3] += z
    s[at + 4] += lx
    s[at + 5] += ly
    s[at + 6] += lz
    s[at + 7] += lx * lx
    s[at + 8] += ly * ly
    s[at + 9] += lz * lz
    s[at + 10] += lx * ly
    s[at + 11] += lx * lz
    s[at + 12] += ly * lz
    s[at + 13] += hx * hx + hy * hy + hz * hz
    this.lastS = tS
    this.last[0] = x
    this.last[1] = y
    this.last[2] = z
  }

  /** Adds evenly spaced samples from `startS` on, the same to the last bit as `push` one by one, in less time. */
  pushSeries(startS: number, { x, y, z }: Vector3Series): void {
    const n = x.length
    if (n === 0) return
    this.push(startS, x[0], y[0], z[0])
    this.reserve(tickAt(startS + (n - 1) / this.rateHz))
    const low = threeArrays(Math.min(CHUNK, n))
    const high = threeArrays(Math.min(CHUNK, n))
    for (let from = 1; from < n; from += CHUNK) {
      const to = Math.min(n, from + CHUNK)
      const chunk: Three = [x.subarray(from, to), y.subarray(from, to), z.subarray(from, to)]
      CausalFilter.processThree(this.lowPass, chunk, low)
      CausalFilter.processThree(this.highPass, chunk, high)
      this.addChunk(startS, { x, y, z }, from, to, low, high)
      for (let axis = 0; axis < 3; axis++) this.lowPassed[axis] = low[axis][to - from - 1]
    }
    this.lastS = startS + (n - 1) / this.rateHz
    this.last[0] = x[n - 1]
    this.last[1] = y[n - 1]
    this.last[2] = z[n - 1]
  }

  /** Says that nothing before `tS` will come any more, closing the ticks that end there. */
  closeUntil(tS: number): void {
    const tick = tickAt(tS)
    if (tick > this.open) {
      this.reserve(tick)
      this.open = tick
    }
  }

  /** Adds up the ticks [fromTick, toTick); ticks outside the recording count as empty. */
  sum(fromTick: number, toTick: number, into: TickSum): TickSum {
    into.set(this.sums, Math.max(0, fromTick), Math.min(toTick, this.open))
    return into
  }

  /** Adds the ticks [fromTick, toTick) to sums that hold others already. */
  addTo(fromTick: number, toTick: number, into: TickSum): TickSum {
    into.add(this.sums, Math.max(0, fromTick), Math.min(toTick, this.open))
    return into
  }

  /** The mean of the low-passed acceleration over [fromTick, toTick), sensor axes, into `mean`; false when empty. */
  meanLowPassedOver(fromTick: number, toTick: number, mean: Float64Array): boolean {
    const s = this.sums
    let count = 0
    let x = 0
    let y = 0
    let z = 0
    const end = Math.min(toTick, this.open) * FIELDS
    for (let at = Math.max(0, fromTick) * FIELDS; at < end; at += FIELDS) {
      count += s[at]
      x += s[at + 4]
      y += s[at + 5]
      z += s[at + 6]
    }
    mean[0] = x / count
    mean[1] = y / count
    mean[2] = z / count
    return count > 0
  }

  /** Every 5 s of the finished ticks, one each 0.5 s. */
  stretches(): readonly Stretch[] {
    return this.fiveSeconds.of(this)
  }

  /** High-passed power of one tick, (m/s²)²; 0 for an empty one. */
  highPower(tick: number): number {
    const at = tick * FIELDS
    return tick >= 0 && tick < this.open && this.sums[at] > 0 ? this.sums[at + 13] / this.sums[at] : 0
  }

  /** Samples that arrived in the ticks [fromTick, toTick) over those expected, 0..1. */
  coverage(fromTick: number, toTick: number): number {
    let count = 0
    for (let k = Math.max(0, fromTick); k < Math.min(toTick, this.open); k++) count += this.sums[k * FIELDS]
    return Math.min(1, count / ((toTick - fromTick) * TICK_S * this.rateHz))
  }

  /** Mean raw acceleration of the whole recording, sensor axes, m/s². */
  meanRaw(): [number, number, number] {
    return this.sum(0, this.open, new TickSum()).meanRaw()
  }

  /** Mean raw acceleration over the ticks [fromTick, toTick), sensor axes, m/s²; null when empty. */
  meanRawOver(fromTick: number, toTick: number): [number, number, number] | null {
    const sum = this.sum(fromTick, toTick, new TickSum())
    return sum.count > 0 ? sum.meanRaw() : null
  }

  private bridge(tS: number, x: number, y: number, z: number): void {
    if (this.lastS === Number.NEGATIVE_INFINITY || tS - this.lastS > BRIDGE_S) {
      for (const filters of [this.lowPass, this.highPass]) {
        filters[0].settle(x)
        filters[1].settle(y)
        filters[2].settle(z)
      }
      return
    }
    const steps = Math.round((tS - this.lastS) * this.rateHz)
    const [lastX, lastY, lastZ] = this.last
    for (let i = 1; i < steps; i++) {
      const share = i / steps
      for (const filters of [this.lowPass, this.highPass]) {
        filters[0].push(lastX + share * (x - lastX))
        filters[1].push(lastY + share * (y - lastY))
        filters[2].push(lastZ + share * (z - lastZ))
      }
    }
  }

  /** Adds the samples [from, to) of a series whose ticks are reserved, given filtered. */
  private addChunk(
    startS: number,
    { x, y, z }: Vector3Series,
    from: number,
    to: number,
    [lx, ly, lz]: Three,
    [hx, hy, hz]: Three,
  ): void {
    const s = this.sums
    for (let i = from; i < to;) {
      const at = this.tickOffset(startS + i / this.rateHz)
      const end = Math.min(to, this.firstAfterTick(startS, i))
      let sumX = s[at + 1]
      let sumY = s[at + 2]
      let sumZ = s[at + 3]
      let lowX = s[at + 4]
      let lowY = s[at + 5]
      let lowZ = s[at + 6]
      let xx = s[at + 7]
      let yy = s[at + 8]
      let zz = s[at + 9]
      let xy = s[at + 10]
      let xz = s[at + 11]
      let yz = s[at + 12]
      let high = s[at + 13]
      s[at] += end - i
      for (; i < end; i++) {
        const k = i - from
        sumX += x[i]
        sumY += y[i]
        sumZ += z[i]
        lowX += lx[k]
        lowY += ly[k]
        lowZ += lz[k]
        xx += lx[k] * lx[k]
        yy += ly[k] * ly[k]
        zz += lz[k] * lz[k]
        xy += lx[k] * ly[k]
        xz += lx[k] * lz[k]
        yz += ly[k] * lz[k]
        high += hx[k] * hx[k] + hy[k] * hy[k] + hz[k] * hz[k]
      }
      s[at + 1] = sumX
      s[at + 2] = sumY
      s[at + 3] = sumZ
      s[at + 4] = lowX
      s[at + 5] = lowY
      s[at + 6] = lowZ
      s[at + 7] = xx
      s[at + 8] = yy
      s[at + 9] = zz
      s[at + 10] = xy
      s[at + 11] = xz
      s[at + 12] = yz
      s[at + 13] = high
    }
  }

  /** The first sample after `i` that falls into a later tick: near the end of the tick, then one by one. */
  private firstAfterTick(startS: number, i: number): number {
    const tick = tickAt(startS + i / this.rateHz)
    let next = Math.max(i + 1, Math.floor(((tick + 1) * TICK_S - startS) * this.rateHz) - 1)
    while (next > i + 1 && tickAt(startS + (next - 1) / this.rateHz) > tick) next--
    while (tickAt(startS + next / this.rateHz) === tick) next++
    return next
  }

  private tickOffset(tS: number): number {
    const tick = tickAt(tS)
    if (tick < this.open)
      throw new RangeError(`MotionTicks.push requires ascending times, got ${tS} s after ${this.lastS} s`)
    this.reserve(tick)
    this.open = tick
    return tick * FIELDS
  }

  private reserve(tick: number): void {
    const needed = (tick + 1) * FIELDS
    if (needed <= this.sums.length) return
    const grown = new Float64Array(Math.max(needed, this.sums.length * 2))
    grown.set(this.sums)
    this.sums = grown
  }
}

function threeArrays(length: number): Three {
  return [new Float64Array(length), new Float64Array(length), new Float64Array(length)]
}

/** The tick a time falls into; a time just short of a tick's start by rounding is at it. */
function tickAt(tS: number): number {
  return Math.floor(tS / TICK_S + 1e-6)
}

/** Sums over some ticks, and what follows from them; one object is reused to spare allocation. */
export class TickSum {
  count = 0
  private readonly s = new Float64Array(FIELDS)

  /** Replaces the sums by those of the ticks [from, to) of `sums`. */
  set(sums: Float64Array, from: number, to: number): void {
    let [count, s1, s2, s3, s4, s5, s6, s7, s8, s9] = [0, 0, 0, 0, 0, 0, 0, 0, 0, 0]
    let [s10, s11, s12, s13] = [0, 0, 0, 0]
    for (let at = from * FIELDS; at < to * FIELDS; at += FIELDS) {
      count += sums[at]
      s1 += sums[at + 1]
      s2 += sums[at + 2]
      s3 += sums[at + 3]
      s4 += sums[at + 4]
      s5 += sums[at + 5]
      s6 += sums[at + 6]
      s7 += sums[at + 7]
      s8 += sums[at + 8]
      s9 += sums[at + 9]
      s10 += sums[at + 10]
      s11 += sums[at + 11]
      s12 += sums[at + 12]
      s13 += sums[at + 13]
    }
    this.count = count
    const s = this.s
    s[1] = s1
    s[2] = s2
    s[3] = s3
    s[4] = s4
    s[5] = s5
    s[6] = s6
    s[7] = s7
    s[8] = s8
    s[9] = s9
    s[10] = s10
    s[11] = s11
    s[12] = s12
    s[13] = s13
  }

  /** Adds the ticks [from, to) of `sums`. */
  add(sums: Float64Array, from: number, to: number): void {
    for (let at = from * FIELDS; at < to * FIELDS; at += FIELDS) {
      this.count += sums[at]
      for (let i = 1; i < FIELDS; i++) this.s[i] += sums[at + i]
    }
  }

  clear(): void {
    this.count = 0
    this.s.fill(0)
  }

  /** Mean raw acceleration, sensor axes, m/s²: the direction of gravity when the window is quiet. */
  meanRaw(): [number, number, number] {
    return [this.s[1] / this.count, this.s[2] / this.count, this.s[3] / this.count]
  }

  /** Variance of the low-passed acceleration, summed over the three axes, (m/s²)². */
  variance(): number {
    const { s, count } = this
    const mx = s[4] / count
    const my = s[5] / count
    const mz = s[6] / count
    return Math.max(0, (s[7] + s[8] + s[9]) / count - mx * mx - my * my - mz * mz)
  }

  /** Variance of the low-passed acceleration along a unit vector, (m/s²)². */
  varianceAlong(u: readonly number[]): number {
    const n = this.count
    const [mx, my, mz] = this.meanLowPassed()
    const along =
      u[0] * u[0] * (this.s[7] / n - mx * mx) +
      u[1] * u[1] * (this.s[8] / n - my * my) +
      u[2] * u[2] * (this.s[9] / n - mz * mz) +
      2 * u[0] * u[1] * (this.s[10] / n - mx * my) +
      2 * u[0] * u[2] * (this.s[11] / n - mx * mz) +
      2 * u[1] * u[2] * (this.s[12] / n - my * mz)
    return Math.max(0, along)
  }

  /** Mean power of the high-passed acceleration, three axes summed, (m/s²)². */
  highPower(): number {
    return this.s[13] / this.count
  }

  meanLowPassed(): [number, number, number] {
    return [this.s[4] / this.count, this.s[5] / this.count, this.s[6] / this.count]
  }
}

/**
 * Group delay at 0 Hz of an analogue Butterworth low-pass, s: Σ 2·sin θₖ over its pole pairs ÷ ω_c
 * (the pole pairs s² + 2·sin θₖ·s + 1; any filter handbook).
 */
function butterworthDelayS(order: number, cutoffHz: number): number {
  let sum = order % 2
  for (let k = 0; k < Math.floor(order / 2); k++) sum += 2 * Math.sin((Math.PI * (2 * k + 1)) / (2 * order))
  return sum / (2 * Math.PI * cutoffHz)
}
