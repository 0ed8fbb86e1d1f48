import { BODY_RATE_HZ } from './body-motion.ts'
import type { BodyMotion } from './body-motion.ts'
import type { Random } from './random.ts'
import type { SimulatedDog } from './script.ts'
import { unitLean } from './sway.ts'
import type { PlacedEpisode } from './timeline.ts'
import { addTone } from './tones.ts'

/** Time over which the sway changes from one level to the next, s. */
const TRANSITION_S = 0.8

/** Adds trunk sway whose expected horizontal RMS follows the episodes, breath, and the slow motion of supporting hands. */
export function addSway(
  motion: BodyMotion,
  placed: readonly PlacedEpisode[],
  dog: SimulatedDog,
  random: Random,
): void {
  const { n } = motion
  const size = random.split('dog')
  const heightM = 0.8 * dog.withersM
  const naturalHz = dog.naturalHz ?? {
    cc: size.uniform(0.45, 0.65) * Math.sqrt(0.6 / dog.withersM),
    ml: size.uniform(0.45, 0.75) * Math.sqrt(0.6 / dog.withersM),
  }
  const ccLean = unitLean(
    n,
    { naturalHz: naturalHz.cc, damping: 0.45, heightM, tiltPerLean: 0.3 },
    random.split('cc'),
  )
  const mlLean = unitLean(
    n,
    { naturalHz: naturalHz.ml, damping: 0.4, heightM, tiltPerLean: 0.6 },
    random.split('ml'),
  )
  const mlShare = dog.mlShare ?? 0.45
  const { swayMs2, handMs2 } = amplitudes(placed, dog, n)
  const breath = slowWave(n, 0.3, 0.5, random.split('breath'))
  const liveliness = slowWave(n, 0.05, 0.2, random.split('liveliness'))
  const handPitch = slowWave(n, 0.12, 0.5, random.split('hand pitch'))
  const handRoll = slowWave(n, 0.12, 0.5, random.split('hand roll'))
  for (let i = 0; i < n; i++) {
    // Depth 0.25: some seconds are calmer than others; the mean square stays 1.
    const amplitude = (swayMs2[i] * (1 + 0.25 * liveliness[i])) / Math.sqrt(1 + 0.25 ** 2)
    const cc = amplitude * Math.sqrt(1 - mlShare) * ccLean[i]
    const ml = amplitude * Math.sqrt(mlShare) * mlLean[i]
    motion.displacement.cc[i] += heightM * cc
    motion.pitch[i] += 0.3 * cc
    motion.displacement.ml[i] -= heightM * ml
    motion.roll[i] += 0.6 * ml
    motion.acceleration.dv[i] += 0.015 * breath[i]
    // Hands push the trunk slowly: read as tilt, share of g.
    motion.pitch[i] += (0.7 * handMs2[i] * handPitch[i]) / 9.8
    motion.roll[i] += (0.7 * handMs2[i] * handRoll[i]) / 9.8
  }
}

/** Expected horizontal sway and hand-motion RMS on the body grid, m/s², smoothed over the transitions. */
function amplitudes(
  placed: readonly PlacedEpisode[],
  dog: SimulatedDog,
  n: number,
): { swayMs2: Float64Array; handMs2: Float64Array } {
  const swayMs2 = new Float64Array(n)
  const handMs2 = new Float64Array(n)
  const support = dog.handSupportFactor ?? 0.5
  let standingSinceS = 0
  let holdSwayMs2 = dog.floorSwayMs2
  let handsOn = false
  placed.forEach(({ episode, fromS, toS, repetition }, index) => {
    const before = placed[index - 1]?.episode.kind
    if (before !== 'hold' && before !== 'step') standingSinceS = fromS
    if (episode.kind === 'hold') {
      holdSwayMs2 =
        episode.swayMs2 ?? dog.floorSwayMs2 * (episode.surface === 'floor' ? 1 : dog.unstableFactor)
      handsOn = episode.support === 'hands-on'
    }
    const upright = episode.kind === 'hold' || episode.kind === 'step'
    const tired = 1 + (dog.weakness?.perRepetition ?? 0) * Math.max(0, repetition - 1)
    for (let i = Math.ceil(fromS * BODY_RATE_HZ); i < Math.min(n, toS * BODY_RATE_HZ + 1); i++) {
      const within = 1 + ((dog.weakness?.per10S ?? 0) * (i / BODY_RATE_HZ - standingSinceS)) / 10
      swayMs2[i] = upright
        ? holdSwayMs2 * tired * within * (handsOn ? support : 1)
        : dog.floorSwayMs2 * CALMNESS[episode.kind as keyof typeof CALMNESS]
      handMs2[i] = upright && handsOn ? 0.15 * holdSwayMs2 : 0
    }
  })
  for (const track of [swayMs2, handMs2]) for (let pass = 0; pass < 2; pass++) smooth(track)
  return { swayMs2, handMs2 }
}

/** Sway outside holds as a share of the floor sway. */
const CALMNESS = {
  'quiet-stand': 1,
  walk: 1.5,
  'step-up': 2,
  'wobble-off': 2,
  'step-down': 1.5,
  sit: 0.6,
  lie: 0.2,
  rest: 2,
  handling: 1.2,
}

/** Moving average over half a transition, in place, ends held. */
function smooth(x: Float64Array): void {
  const half = Math.round((TRANSITION_S * BODY_RATE_HZ) / 4)
  const source = x.slice()
  const at = (i: number): number => source[Math.min(x.length - 1, Math.max(0, i))]
  let sum = 0
  for (let i = -half; i <= half; i++) sum += at(i)
  for (let i = 0; i < x.length; i++) {
    x[i] = sum / (2 * half + 1)
    sum += at(i + half + 1) - at(i - half)
  }
}

/** A smooth irregular wave of unit RMS on the body grid: four tones spread over a band. */
function slowWave(n: number, fromHz: number, toHz: number, random: Random): Float64Array {
  const out = new Float64Array(n)
  for (let k = 0; k < 4; k++) {
    const frequencyHz = fromHz + ((toHz - fromHz) * (k + random.uniform())) / 4
    addTone(out, Math.SQRT1_2, frequencyHz, random.uniform(0, 2 * Math.PI))
  }
  return out
}
