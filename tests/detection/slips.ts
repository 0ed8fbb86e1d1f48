import { totalDurationS } from '#signal/simulator/exercise'
import { randomSession } from '#signal/simulator/population'
import type { RandomSession } from '#signal/simulator/population'
import { createRandom } from '#signal/simulator/random'
import { simulateSession } from '#signal/simulator/session'

/** The random session of a seed, its harness slipping sideways by 12° to 25° somewhere in its middle. */
export function slippedSession(seed: string): RandomSession {
  const random = createRandom(`${seed}/slip`)
  const { script, delivery } = randomSession(seed)
  const slip = {
    atS: random.uniform(0.3, 0.8) * totalDurationS(script.episodes),
    turn: {
      rollDeg: random.pick([-1, 1]) * random.uniform(12, 25),
      pitchDeg: random.uniform(-5, 5),
      yawDeg: 0,
    },
  }
  const changed = { ...script, mount: { ...script.mount, slip } }
  return { script: changed, delivery, session: simulateSession(changed) }
}
