import { describe, expect, it } from 'vitest'
import { headingFromWalk, walkSpans } from '#signal/mount/heading'
import { angleDeg, compose, rotate } from '#signal/mount/rotation'
import type { Rotation } from '#signal/mount/rotation'
import { rotationFromEuler, transposed } from '#signal/simulator/rotation'
import { createRandom } from '#signal/simulator/random'
import type { MarkKind, UniformTrace } from '#signal/trace/trace'

const G = 9.80665
const rateHz = 100
const WALK = { fromS: 2, toS: 8 }

interface Gait {
  readonly stepHz: number
  /** Amplitudes, m/s²: along the body and up at the step rate, across at half of it. */
  readonly cc: number
  readonly ml: number
  readonly dv: number
  /** 0: left and right steps alike; 0.3: one stronger by 30 % than the other. */
  readonly lameness: number
  readonly speedMs: number
  /** The walk goes on past its end mark. */
  readonly stops: boolean
}

const GAIT: Gait = { stepHz: 3, cc: 1.5, ml: 0.8, dv: 2, lameness: 0, speedMs: 0.9, stops: true }

/** 10 s of a dog standing, walking from 2 to 8 s and standing, through a mount (dog = mount · sensor). */
function walking(part: Partial<Gait>, mount: Rotation, seed: number | string = 1): UniformTrace {
  const { stepHz, cc, ml, dv, lameness, speedMs, stops } = { ...GAIT, ...part }
  const random = createRandom(seed)
  const n = 10 * rateHz
  const acc = { x: new Float64Array(n), y: new Float64Array(n), z: new Float64Array(n) }
  const inSensor = transposed(mount)
  const bump = (u: number) => (u > 0 && u < 1 ? 1 - Math.cos(2 * Math.PI * u) : 0)
  for (let i = 0; i < n; i++) {
    const tS = i / rateHz
    const goes = tS >= WALK.fromS && tS < WALK.toS ? 1 : 0
    const side = 1 + lameness * Math.sin(Math.PI * stepHz * tS + 1)
    const phase = 2 * Math.PI * stepHz * tS
    const pull = bump((tS - WALK.fromS) / 0.8) - (stops ? bump((WALK.toS - tS) / 0.8) : 0)
    const dog = [
      goes * cc * side * Math.sin(phase) + (speedMs / 0.8) * pull + 0.15 * random.normal(),
      goes * ml * Math.sin(phase / 2 + 0.7) + 0.15 * random.normal(),
      G + goes * dv * side * Math.sin(phase + 0.9) + 0.15 * random.normal(),
    ]
    const [x, y, z] = rotate(inSensor, dog)
    acc.x[i] = x
    acc.y[i] = y
    acc.z[i] = z
  }
  return { rateHz, stretches: [{ startS: 0, acc }] }
}

function headingOf(part: Partial<Gait>, mount: Rotation, seed?: number | string) {
  return headingFromWalk(walking(part, mount, seed), rotate(transposed(mount), [0, 0, G]), [WALK])
}

const MOUNTS = [0, 37, 90, 135, 180, -60].map((yawDeg) =>
  rotationFromEuler({ yawDeg, pitchDeg: -12, rollDeg: 25 }),
)

describe('headingFromWalk', () => {
  it.each([
    ['a plain walk', {}],
    ['a dog that swings sideways more than it surges', { cc: 0.8, ml: 1.6 }],
    ['a lame dog, one side a third stronger', { lameness: 0.33 }],
    ['a small dog at a trot', { stepHz: 5.5 }],
    ['a giant dog', { stepHz: 1.8 }],
    ['a dog still walking when the end is marked', { stops: false }],
  ] as const)('finds the head within 5° for %s, any way the sensor is turned', (_, part) => {
    for (const [i, mount] of MOUNTS.entries()) {
      const { heading } = headingOf(part, mount, i)
      // 0.15 m/s² of noise and the start and stop themselves turn the line by a degree or two.
      for (const axis of [0, 1, 2]) expect(angleDeg(heading!.rotation[axis], mount[axis])).toBeLessThan(5)
      expect(heading!.standardErrorDeg).toBeLessThan(5)
    }
  })

  it('turns to the tail when the dog walks backwards, and gives the speed', () => {
    const { heading } = headingOf({ speedMs: -0.9 }, MOUNTS[1])
    const turned: Rotation = [
      [-1, 0, 0],
      [0, -1, 0],
      [0, 0, 1],
    ]
    expect(angleDeg(heading!.rotation[0], compose(turned, MOUNTS[1])[0])).toBeLessThan(5)
    // Mean over 6 s of 0.9 m/s reached and left within 0.8 s each. The steps' own speed is not known: 0.08 m/s.
    const { speedMs } = headingOf({}, MOUNTS[1]).heading!
    expect(Math.abs(speedMs - (0.9 * 5.2) / 6)).toBeLessThan(0.1)
  })

  it.each([
    ['nothing marked', {}, [], 'no led walk was marked'],
    ['a walk of 2 s', {}, [{ fromS: 3, toS: 5 }], 'no gap-free 3 s'],
    ['a dog that stood', {}, [{ fromS: 8, toS: 12 }], 'no gap-free 3 s'],
    ['steps too small to tell from standing', { cc: 0.1, ml: 0.1, dv: 0.1 }, [WALK], 'no steady steps'],
    ['steps on the spot', { speedMs: 0 }, [WALK], 'not which end is the front'],
    ['swaying all around', { cc: 0, ml: 0, speedMs: 0 }, [WALK], 'agree on a direction only to'],
  ] as const)('gives none and says why for %s', (_, part, walks, why) => {
    const mount = MOUNTS[1]
    const outcome = headingFromWalk(walking(part, mount), rotate(transposed(mount), [0, 0, G]), walks)
    expect(outcome.heading).toBeNull()
    expect(outcome.reason).toContain(why)
  })

  it('gives none when the sensor sat otherwise on the dog in the walk than in the stand', () => {
    const stand = rotate(
      transposed(compose(rotationFromEuler({ yawDeg: 0, pitchDeg: 0, rollDeg: 15 }), MOUNTS[1])),
      [0, 0, G],
    )
    expect(headingFromWalk(walking({}, MOUNTS[1]), stand, [WALK]).reason).toContain('upright as in the stand')
  })

  it('uses the longest part without a gap', () => {
    const { stretches } = walking({}, MOUNTS[2])
    const { x, y, z } = stretches[0].acc
    const cut = (from: number, to: number) => ({
      startS: from / rateHz,
      acc: { x: x.slice(from, to), y: y.slice(from, to), z: z.slice(from, to) },
    })
    const gravity = rotate(transposed(MOUNTS[2]), [0, 0, G])
    const { heading } = headingFromWalk({ rateHz, stretches: [cut(0, 280), cut(300, 1000)] }, gravity, [WALK])
    // Only the stop tells the front here.
    expect(angleDeg(heading!.rotation[0], MOUNTS[2][0])).toBeLessThan(5)
  })
})

describe('walkSpans', () => {
  const at = (atS: number, kind: MarkKind) => ({ atS, kind })

  it('pairs starts with ends and leaves out what never ended', () => {
    expect(
      walkSpans([
        at(1, 'walk-end'),
        at(2, 'walk-start'),
        at(3, 'note'),
        at(7, 'walk-end'),
        at(9, 'walk-start'),
      ]),
    ).toEqual([{ fromS: 2, toS: 7 }])
    expect(walkSpans([at(2, 'walk-start'), at(5, 'walk-start'), at(9, 'walk-end')])).toEqual([
      { fromS: 5, toS: 9 },
    ])
  })
})
