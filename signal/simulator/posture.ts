import { BODY_RATE_HZ } from './body-motion.ts'
import type { BodyMotion } from './body-motion.ts'
import type { Random } from './random.ts'
import type { Surface } from './script.ts'
import type { PlacedEpisode } from './timeline.ts'

/** A trunk pose: pitch nose up, roll left side up, height of the trunk over its height on the floor. */
interface Pose {
  readonly noseUpDeg: number
  readonly rollDeg: number
  readonly heightM: number
}

const LEVEL: Pose = { noseUpDeg: 0, rollDeg: 0, heightM: 0 }

/** Fore paws on a rocker board lift the front; a foam pad carries all four paws. */
const SURFACE_POSE: Readonly<Record<Surface, Pose>> = {
  floor: LEVEL,
  'foam pad': { noseUpDeg: 0.5, rollDeg: 0, heightM: 0.06 },
  'rocker board': { noseUpDeg: 6, rollDeg: 0, heightM: 0.05 },
}

/** Adds the slow changes of pose (mounting, sitting, lying) as minimum-jerk moves (Flash & Hogan 1985). */
export function addPosture(motion: BodyMotion, placed: readonly PlacedEpisode[], random: Random): void {
  let pose = LEVEL
  const move = (fromS: number, toS: number, to: Pose): void => {
    addMove(motion, fromS, toS, pose, to)
    pose = to
  }
  placed.forEach(({ episode, fromS, toS }, index) => {
    const spanS = toS - fromS
    if (episode.kind === 'step-up') {
      const middle = { noseUpDeg: random.uniform(9, 17), rollDeg: random.uniform(-3, 3), heightM: 0.04 }
      const surface = placed.slice(index).find((next) => next.episode.kind === 'hold')?.episode
      const target = surface?.kind === 'hold' ? SURFACE_POSE[surface.surface] : LEVEL
      const settled = {
        ...target,
        noseUpDeg: target.noseUpDeg + 0.7 * random.normal(),
        rollDeg: 0.7 * random.normal(),
      }
      move(fromS + 0.1 * spanS, fromS + 0.5 * spanS, middle)
      move(fromS + 0.5 * spanS, fromS + 0.9 * spanS, settled)
    } else if (episode.kind === 'step') {
      const settled = {
        ...pose,
        noseUpDeg: pose.noseUpDeg + 0.4 * random.normal(),
        rollDeg: pose.rollDeg + 0.4 * random.normal(),
      }
      move(fromS + 0.15 * spanS, fromS + 0.85 * spanS, settled)
    } else if (episode.kind === 'step-down' || episode.kind === 'wobble-off') {
      const middle = { noseUpDeg: random.uniform(-12, -5), rollDeg: random.uniform(-4, 4), heightM: 0.02 }
      move(fromS + 0.35 * spanS, fromS + 0.6 * spanS, middle)
      move(fromS + 0.6 * spanS, fromS + 0.9 * spanS, LEVEL)
    } else if (episode.kind === 'sit') {
      const standing = pose
      move(fromS + 0.1, fromS + 1.1, {
        noseUpDeg: episode.pitchDeg,
        rollDeg: random.uniform(-4, 4),
        heightM: -0.1,
      })
      move(toS - 1.1, toS - 0.1, standing)
    } else if (episode.kind === 'lie') {
      const standing = pose
      move(fromS + 0.1, fromS + 0.8, { noseUpDeg: -12, rollDeg: 0, heightM: -0.15 })
      move(fromS + 0.8, fromS + 1.6, {
        noseUpDeg: random.uniform(-2, 6),
        rollDeg: random.uniform(-12, 12),
        heightM: -0.35,
      })
      move(toS - 1.5, toS - 0.1, standing)
    }
  })
}

function addMove(motion: BodyMotion, fromS: number, toS: number, from: Pose, to: Pose): void {
  const pitch = (-(to.noseUpDeg - from.noseUpDeg) * Math.PI) / 180
  const roll = ((to.rollDeg - from.rollDeg) * Math.PI) / 180
  const heightM = to.heightM - from.heightM
  for (let i = Math.max(0, Math.ceil(fromS * BODY_RATE_HZ)); i < motion.n; i++) {
    const u = (i / BODY_RATE_HZ - fromS) / (toS - fromS)
    const share = u >= 1 ? 1 : u * u * u * (10 + u * (6 * u - 15))
    motion.pitch[i] += share * pitch
    motion.roll[i] += share * roll
    motion.displacement.dv[i] += share * heightM
  }
}
