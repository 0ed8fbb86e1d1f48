import { BODY_RATE_HZ } from './body-motion.ts'

/** After so many samples the turning pointer is set afresh, so that rounding does not build up. */
const RESET_SAMPLES = 4096

/** Adds amplitude·sin(2π·frequency·i/rate + phase) on the body grid, in place. */
export function addTone(out: Float64Array, amplitude: number, frequencyHz: number, phase: number): void {
  const turn = (2 * Math.PI * frequencyHz) / BODY_RATE_HZ
  const turnSine = Math.sin(turn)
  const turnCosine = Math.cos(turn)
  let sine = 0
  let cosine = 0
  for (let i = 0; i < out.length; i++) {
    if (i % RESET_SAMPLES === 0) {
      sine = amplitude * Math.sin(turn * i + phase)
      cosine = amplitude * Math.cos(turn * i + phase)
    }
    out[i] += sine
    const next = sine * turnCosine + cosine * turnSine
    cosine = cosine * turnCosine - sine * turnSine
    sine = next
  }
}
