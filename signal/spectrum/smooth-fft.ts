/** Lengths this transform takes: products of 2, 3 and 5. */
export function isSmooth(n: number): boolean {
  let rest = n
  for (const radix of [2, 3, 5]) while (rest % radix === 0) rest /= radix
  return rest === 1
}

interface Stage {
  readonly radix: number
  /** Transform length left after this stage. */
  readonly rest: number
  /** Product of the radices before this stage. */
  readonly stride: number
  /** exp(−2πi·q·k / (radix·rest)) for k = 1..radix−1, q = 0..rest−1, at [q·(radix−1) + k−1]. */
  readonly twiddleRe: Float64Array
  readonly twiddleIm: Float64Array
}

/**
 * Complex discrete Fourier transform of one length 2^a·3^b·5^c, in place, Xₖ = Σ xⱼ·exp(−2πi·jk/n).
 * Stockham's self-sorting form with radices 4, 2, 3 and 5: O(n log n), rounding error about 1e-16·log n.
 * A plan holds its scratch memory, so one call must end before the next begins.
 *
 * The common segments (2 s and 4 s at 25, 50, 100 or 200 Hz) have such lengths; padding them to a
 * power of two would move the bins, and a chirp transform costs about five times as much.
 *
 * @see Cooley & Tukey 1965, Math. Comput. 19:297–301; Van Loan 1992, Computational Frameworks for the FFT (from memory)
 */
export class SmoothFft {
  readonly n: number
  readonly #stages: readonly Stage[]
  readonly #scratchRe: Float64Array
  readonly #scratchIm: Float64Array

  constructor(n: number) {
    if (!(Number.isInteger(n) && n >= 1 && isSmooth(n))) {
      throw new RangeError(`SmoothFft requires a length made of the factors 2, 3 and 5, got ${n}`)
    }
    this.n = n
    this.#stages = planStages(n)
    this.#scratchRe = new Float64Array(n)
    this.#scratchIm = new Float64Array(n)
  }

  transform(re: Float64Array, im: Float64Array): void {
    let [fromRe, fromIm, toRe, toIm] = [re, im, this.#scratchRe, this.#scratchIm]
    for (const stage of this.#stages) {
      BUTTERFLIES[stage.radix](stage, fromRe, fromIm, toRe, toIm)
      ;[fromRe, fromIm, toRe, toIm] = [toRe, toIm, fromRe, fromIm]
    }
    if (fromRe !== re) {
      re.set(fromRe)
      im.set(fromIm)
    }
  }
}

function planStages(n: number): Stage[] {
  const stages: Stage[] = []
  let left = n
  let stride = 1
  while (left > 1) {
    const radix = [4, 2, 3, 5].find((candidate) => left % candidate === 0)!
    const rest = left / radix
    const twiddleRe = new Float64Array(rest * (radix - 1))
    const twiddleIm = new Float64Array(rest * (radix - 1))
    for (let q = 0; q < rest; q++) {
      for (let k = 1; k < radix; k++) {
        const angle = (-2 * Math.PI * ((q * k) % left)) / left
        twiddleRe[q * (radix - 1) + k - 1] = Math.cos(angle)
        twiddleIm[q * (radix - 1) + k - 1] = Math.sin(angle)
      }
    }
    stages.push({ radix, rest, stride, twiddleRe, twiddleIm })
    left = rest
    stride *= radix
  }
  return stages
}

type Butterfly = (
  stage: Stage,
  xr: Float64Array,
  xi: Float64Array,
  yr: Float64Array,
  yi: Float64Array,
) => void

const BUTTERFLIES: Record<number, Butterfly> = { 2: radix2, 3: radix3, 4: radix4, 5: radix5 }

function radix2(stage: Stage, xr: Float64Array, xi: Float64Array, yr: Float64Array, yi: Float64Array): void {
  const { rest, stride, twiddleRe, twiddleIm } = stage
  for (let q = 0; q < rest; q++) {
    const wr = twiddleRe[q]
    const wi = twiddleIm[q]
    for (let s = 0; s < stride; s++) {
      const a = s + stride * q
      const b = a + stride * rest
      const out = s + stride * 2 * q
      const dr = xr[a] - xr[b]
      const di = xi[a] - xi[b]
      yr[out] = xr[a] + xr[b]
      yi[out] = xi[a] + xi[b]
      yr[out + stride] = dr * wr - di * wi
      yi[out + stride] = dr * wi + di * wr
    }
  }
}

const SIN_60 = Math.sqrt(3) / 2

function radix3(stage: Stage, xr: Float64Array, xi: Float64Array, yr: Float64Array, yi: Float64Array): void {
  const { rest, stride, twiddleRe, twiddleIm } = stage
  const jump = stride * rest
  for (let q = 0; q < rest; q++) {
    const w1r = twiddleRe[2 * q]
    const w1i = twiddleIm[2 * q]
    const w2r = twiddleRe[2 * q + 1]
    const w2i = twiddleIm[2 * q + 1]
    for (let s = 0; s < stride; s++) {
      const a = s + stride * q
      const b = a + jump
      const c = b + jump
      const out = s + stride * 3 * q
      const sumR = xr[b] + xr[c]
      const sumI = xi[b] + xi[c]
      const midR = xr[a] - 0.5 * sumR
      const midI = xi[a] - 0.5 * sumI
      const turnR = SIN_60 * (xi[b] - xi[c])
      const turnI = SIN_60 * (xr[c] - xr[b])
      const t1r = midR + turnR
      const t1i = midI + turnI
      const t2r = midR - turnR
      const t2i = midI - turnI
      yr[out] = xr[a] + sumR
      yi[out] = xi[a] + sumI
      yr[out + stride] = t1r * w1r - t1i * w1i
      yi[out + stride] = t1r * w1i + t1i * w1r
      yr[out + 2 * stride] = t2r * w2r - t2i * w2i
      yi[out + 2 * stride] = t2r * w2i + t2i * w2r
    }
  }
}

function radix4(stage: Stage, xr: Float64Array, xi: Float64Array, yr: Float64Array, yi: Float64Array): void {
  const { rest, stride, twiddleRe, twiddleIm } = stage
  const jump = stride * rest
  for (let q = 0; q < rest; q++) {
    const w1r = twiddleRe[3 * q]
    const w1i = twiddleIm[3 * q]
    const w2r = twiddleRe[3 * q + 1]
    const w2i = twiddleIm[3 * q + 1]
    const w3r = twiddleRe[3 * q + 2]
    const w3i = twiddleIm[3 * q + 2]
    for (let s = 0; s < stride; s++) {
      const a = s + stride * q
      const b = a + jump
      const c = b + jump
      const d = c + jump
      const out = s + stride * 4 * q
      const acR = xr[a] + xr[c]
      const acI = xi[a] + xi[c]
      const acDiffR = xr[a] - xr[c]
      const acDiffI = xi[a] - xi[c]
      const bdR = xr[b] + xr[d]
      const bdI = xi[b] + xi[d]
      // −i · (b − d)
      const turnR = xi[b] - xi[d]
      const turnI = xr[d] - xr[b]
      const t1r = acDiffR + turnR
      const t1i = acDiffI + turnI
      const t2r = acR - bdR
      const t2i = acI - bdI
      const t3r = acDiffR - turnR
      const t3i = acDiffI - turnI
      yr[out] = acR + bdR
      yi[out] = acI + bdI
      yr[out + stride] = t1r * w1r - t1i * w1i
      yi[out + stride] = t1r * w1i + t1i * w1r
      yr[out + 2 * stride] = t2r * w2r - t2i * w2i
      yi[out + 2 * stride] = t2r * w2i + t2i * w2r
      yr[out + 3 * stride] = t3r * w3r - t3i * w3i
      yi[out + 3 * stride] = t3r * w3i + t3i * w3r
    }
  }
}

const COS_72 = Math.cos((2 * Math.PI) / 5)
const SIN_72 = Math.sin((2 * Math.PI) / 5)
const COS_144 = Math.cos((4 * Math.PI) / 5)
const SIN_144 = Math.sin((4 * Math.PI) / 5)

function radix5(stage: Stage, xr: Float64Array, xi: Float64Array, yr: Float64Array, yi: Float64Array): void {
  const { rest, stride, twiddleRe, twiddleIm } = stage
  const jump = stride * rest
  for (let q = 0; q < rest; q++) {
    const w = 4 * q
    for (let s = 0; s < stride; s++) {
      const a = s + stride * q
      const b = a + jump
      const c = b + jump
      const d = c + jump
      const e = d + jump
      const out = s + stride * 5 * q
      const beR = xr[b] + xr[e]
      const beI = xi[b] + xi[e]
      const cdR = xr[c] + xr[d]
      const cdI = xi[c] + xi[d]
      const beDiffR = xr[b] - xr[e]
      const beDiffI = xi[b] - xi[e]
      const cdDiffR = xr[c] - xr[d]
      const cdDiffI = xi[c] - xi[d]
      const nearR = xr[a] + COS_72 * beR + COS_144 * cdR
      const nearI = xi[a] + COS_72 * beI + COS_144 * cdI
      const farR = xr[a] + COS_144 * beR + COS_72 * cdR
      const farI = xi[a] + COS_144 * beI + COS_72 * cdI
      // −i · (sin 72° (b − e) + sin 144° (c − d)) and −i · (sin 144° (b − e) − sin 72° (c − d))
      const nearTurnR = SIN_72 * beDiffI + SIN_144 * cdDiffI
      const nearTurnI = -SIN_72 * beDiffR - SIN_144 * cdDiffR
      const farTurnR = SIN_144 * beDiffI - SIN_72 * cdDiffI
      const farTurnI = -SIN_144 * beDiffR + SIN_72 * cdDiffR
      const t1r = nearR + nearTurnR
      const t1i = nearI + nearTurnI
      const t2r = farR + farTurnR
      const t2i = farI + farTurnI
      const t3r = farR - farTurnR
      const t3i = farI - farTurnI
      const t4r = nearR - nearTurnR
      const t4i = nearI - nearTurnI
      yr[out] = xr[a] + beR + cdR
      yi[out] = xi[a] + beI + cdI
      yr[out + stride] = t1r * twiddleRe[w] - t1i * twiddleIm[w]
      yi[out + stride] = t1r * twiddleIm[w] + t1i * twiddleRe[w]
      yr[out + 2 * stride] = t2r * twiddleRe[w + 1] - t2i * twiddleIm[w + 1]
      yi[out + 2 * stride] = t2r * twiddleIm[w + 1] + t2i * twiddleRe[w + 1]
      yr[out + 3 * stride] = t3r * twiddleRe[w + 2] - t3i * twiddleIm[w + 2]
      yi[out + 3 * stride] = t3r * twiddleIm[w + 2] + t3i * twiddleRe[w + 2]
      yr[out + 4 * stride] = t4r * twiddleRe[w + 3] - t4i * twiddleIm[w + 3]
      yi[out + 4 * stride] = t4r * twiddleIm[w + 3] + t4i * twiddleRe[w + 3]
    }
  }
}
