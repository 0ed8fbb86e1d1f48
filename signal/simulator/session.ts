import { angularRate, createBodyMotion, specificForce } from './body-motion.ts'
import { addOverlays, addTouches, addTransients, addTremor } from './movements.ts'
import { addPosture } from './posture.ts'
import { createRandom } from './random.ts'
import { rotationAngleDeg, rotationFromEuler } from './rotation.ts'
import type { EpisodeKind, SessionScript } from './script.ts'
import {
  accelerometerReading,
  gyroscopeReading,
  mountedSamples,
  mountRotation,
  sampleBody,
  samplingInstants,
} from './sensor.ts'
import { findRepetitions, sessionMarks } from './session-marks.ts'
import { createSwayTruth, findStands, standTruth } from './stands.ts'
import { addSway } from './sway-track.ts'
import { placeEpisodes } from './timeline.ts'
import { transientSpan } from './transients.ts'
import type { SimulatedSession, TimeSpan } from './truth.ts'

/**
 * A recording of a dog's trunk accelerometer with known truth, made from a script. The trunk is an
 * inverted pendulum with active stiffness driven by coloured noise; steps, pose changes and rhythms
 * are added; the sensor shows translation plus gravity seen through the tilt. The same script gives
 * the same samples. All numbers of the model are plausible choices, none is a measured norm.
 *
 * @throws {RangeError} when the rate is outside 25..200 Hz or an episode is too short for its motion
 */
export function simulateSession(script: SessionScript): SimulatedSession {
  if (!(script.rateHz >= 25 && script.rateHz <= 200)) {
    throw new RangeError(`simulateSession requires rateHz from 25 to 200, got ${script.rateHz}`)
  }
  const random = createRandom(script.seed)
  const placed = placeEpisodes(script)
  const durationS = placed[placed.length - 1].toS

  const motion = createBodyMotion(durationS)
  addSway(motion, placed, script.dog, random.split('sway'))
  addPosture(motion, placed, random.split('posture'))
  addTouches(motion, placed, random.split('touches'))
  const bursts = addTransients(motion, placed, script.dog, random.split('transients'))
  const transients = bursts.map(transientSpan)
  const stands = findStands(placed, transients)
  const tremor = addTremor(motion, script, stands, random.split('tremor'))
  const overlays = addOverlays(motion, script, durationS, random.split('overlays'))
  const force = specificForce(motion)

  const rateHz = script.rateHz * (1 + (script.clock?.ppm ?? 0) * 1e-6)
  const instants = samplingInstants(durationS, rateHz, script.clock?.jitterS ?? 0, random.split('clock'))
  const sensor = script.sensor ?? {}
  const mounted = (dog: typeof force) =>
    mountedSamples(sampleBody(dog, instants, rateHz), instants, script.mount)
  const slip = script.mount?.slip
  const spans = (kind: EpisodeKind): (TimeSpan & { index: number })[] =>
    transients.flatMap((span, index) =>
      span && placed[index].episode.kind === kind ? [{ ...span, index }] : [],
    )
  const plain = ({ fromS, toS }: TimeSpan): TimeSpan => ({ fromS, toS })

  return {
    trace: {
      t: instants,
      acc: accelerometerReading(mounted(force), sensor, random.split('accelerometer')),
      ...(sensor.gyroscope && {
        gyr: gyroscopeReading(mounted(angularRate(motion)), sensor, random.split('gyroscope')),
      }),
      startedAtUs: script.startedAtUs ?? null,
      rateHz: script.rateHz,
      marks: sessionMarks(script, placed, stands, random.split('marks')),
    },
    truth: {
      ...standTruth(stands, createSwayTruth(force)),
      tremor,
      ...overlays,
      sits: spans('sit').map((span) => {
        const { episode } = placed[span.index]
        return { ...plain(span), pitchDeg: episode.kind === 'sit' ? episode.pitchDeg : 0 }
      }),
      lies: spans('lie').map(plain),
      walks: spans('walk').map(plain),
      rests: spans('rest').map(plain),
      handlings: spans('handling').map(plain),
      steps: spans('step').map((span) => ({ ...plain(span), peakMs2: bursts[span.index][0].peakMs2 })),
      repetitions: findRepetitions(placed),
      mountRotation: mountRotation(script.mount),
      slip: slip ? { atS: slip.atS, angleDeg: rotationAngleDeg(rotationFromEuler(slip.turn)) } : null,
      rateHz,
      lostSamples: 0,
    },
  }
}
