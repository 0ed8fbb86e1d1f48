import type { MountReport, Row3 } from '../report-types.ts'
import type { HeadingOutcome } from './heading.ts'
import { angleDeg, compose, IDENTITY, rotate, rotationToVertical } from './rotation.ts'
import type { Rotation } from './rotation.ts'

/**
 * How the sensor sits on the dog. `identity`: x→CC, y→ML, z→DV exactly as given. `declared`: the
 * rotation a person stated, corrected for tilt by gravity. `auto`: up by gravity, heading by a led walk if
 * there is one, else unknown.
 */
export type MountOption = 'identity' | 'auto' | { readonly declared: Rotation }

export interface Mount {
  readonly source: MountReport['source']
  readonly rotation: Rotation
  readonly headingResolved: boolean
  readonly reason?: string
}

const NO_WALK: HeadingOutcome = { heading: null, reason: 'no led walk was marked' }

/** A declared mount that gravity contradicts by more than this is reported, degrees (our choice). */
const DECLARED_TILT_LIMIT_DEG = 45

/**
 * Rotation from sensor to dog axes, given the mean acceleration of the reference stand (sensor
 * axes, m/s², pointing up as an accelerometer at rest reads).
 *
 * @param walked what a led walk says of the heading; used with `auto` only
 */
export function resolveMount(
  option: MountOption,
  gravity: readonly number[],
  walked: HeadingOutcome = NO_WALK,
): Mount {
  if (option === 'identity') return { source: 'identity', rotation: IDENTITY, headingResolved: true }
  if (option === 'auto') {
    const { heading, reason } = walked
    if (heading) {
      // Levelled again, as after the harness moved gravity is another than when the dog walked.
      const rotation = compose(rotationToVertical(rotate(heading.rotation, gravity)), heading.rotation)
      return { source: 'auto', rotation, headingResolved: true }
    }
    return {
      source: 'auto',
      rotation: rotationToVertical(gravity),
      headingResolved: false,
      reason:
        `heading unresolved: gravity shows which way is up but not which way the dog faces, and ${reason}; ` +
        'state how the sensor sits (for example x=cranial,y=left,z=dorsal) to tell ML from CC',
    }
  }
  const nominal = rotate(option.declared, gravity)
  const tiltDeg = angleDeg(nominal, [0, 0, 1])
  const mount: Mount = {
    source: 'declared',
    rotation: compose(rotationToVertical(nominal), option.declared),
    headingResolved: true,
  }
  if (tiltDeg <= DECLARED_TILT_LIMIT_DEG) return mount
  return {
    ...mount,
    reason:
      `the stated mount points ${tiltDeg.toFixed(0)}° away from up as gravity shows it; ` +
      'check which way the sensor sits before trusting ML and CC',
  }
}

const DIRECTIONS: Readonly<Record<string, Row3>> = {
  cranial: [1, 0, 0],
  caudal: [-1, 0, 0],
  left: [0, 1, 0],
  right: [0, -1, 0],
  dorsal: [0, 0, 1],
  ventral: [0, 0, -1],
}

/**
 * Reads `identity`, `auto` or a stated mount such as `x=cranial,y=left,z=dorsal` (two axes are
 * enough; the third follows from the right-hand rule).
 * @throws {RangeError} naming what was not understood
 */
export function parseMount(text: string): MountOption {
  if (text === 'identity' || text === 'auto') return text
  const columns: Record<string, Row3> = {}
  for (const part of text.split(',')) {
    const [axis, direction, ...rest] = part.split('=').map((s) => s.trim().toLowerCase())
    const isUnderstood =
      /^[xyz]$/.test(axis) && Object.hasOwn(DIRECTIONS, direction ?? '') && rest.length === 0
    if (!isUnderstood) {
      throw new RangeError(
        `mount "${text}" is not understood at "${part}"; use identity, auto, or for example ` +
          'x=cranial,y=left,z=dorsal (cranial, caudal, left, right, dorsal, ventral)',
      )
    }
    if (columns[axis]) throw new RangeError(`mount "${text}" states the axis ${axis} twice`)
    columns[axis] = DIRECTIONS[direction]
  }
  columns.x ??= columns.y && columns.z && cross(columns.y, columns.z)
  columns.y ??= columns.z && columns.x && cross(columns.z, columns.x)
  columns.z ??= columns.x && columns.y && cross(columns.x, columns.y)
  const { x, y, z } = columns
  if (!x || !y || !z) throw new RangeError(`mount "${text}" must state at least two of the axes x, y, z`)
  const c = cross(x, y)
  const independent = c.some((value) => value !== 0)
  if (!independent || c[0] !== z[0] || c[1] !== z[1] || c[2] !== z[2]) {
    throw new RangeError(`mount "${text}" is not a right-handed set of axes; check one of the directions`)
  }
  return {
    declared: [
      [x[0], y[0], z[0]],
      [x[1], y[1], z[1]],
      [x[2], y[2], z[2]],
    ],
  }
}

function cross(a: Row3, b: Row3): Row3 {
  return [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}
