import { STANDARD_GRAVITY_MS2 } from '../constants.ts'

export type AccUnit = 'g' | 'mg' | 'm/s2'
export type GyroUnit = 'rad/s' | 'deg/s' | 'mdeg/s'
export type TimeUnit = 's' | 'ms' | 'us' | 'ns'

/** m/s² per unit. */
export const ACC_FACTOR: Readonly<Record<AccUnit, number>> = {
  g: STANDARD_GRAVITY_MS2,
  mg: STANDARD_GRAVITY_MS2 / 1000,
  'm/s2': 1,
}

/** rad/s per unit. */
export const GYRO_FACTOR: Readonly<Record<GyroUnit, number>> = {
  'rad/s': 1,
  'deg/s': Math.PI / 180,
  'mdeg/s': Math.PI / 180_000,
}

/** Units per second: dividing by it gives seconds with one rounding. */
export const TICKS_PER_S: Readonly<Record<TimeUnit, number>> = { s: 1, ms: 1e3, us: 1e6, ns: 1e9 }

export type Unit =
  | { readonly kind: 'acc'; readonly unit: AccUnit }
  | { readonly kind: 'gyro'; readonly unit: GyroUnit }
  | { readonly kind: 'time'; readonly unit: TimeUnit }

const SPELLINGS: readonly [readonly string[], Unit][] = [
  [['g', 'gn', 'g0', 'gs', 'gravity'], { kind: 'acc', unit: 'g' }],
  [['mg', 'mgn', 'millig'], { kind: 'acc', unit: 'mg' }],
  [
    ['ms2', 'mps2', 'm/s2', 'ms-2', 'm/s/s', 'm/sec2', 'mpss', 'mss', 'mpersec2'],
    { kind: 'acc', unit: 'm/s2' },
  ],
  [['rads', 'radps', 'rad/s', 'rads-1', 'rad/sec', 'radsec', 'radpersec'], { kind: 'gyro', unit: 'rad/s' }],
  [
    [
      'deg',
      'degs',
      'degps',
      'deg/s',
      'degs-1',
      'deg/sec',
      'degsec',
      '°/s',
      '°s-1',
      'dps',
      'degrees/s',
      'degpersec',
    ],
    { kind: 'gyro', unit: 'deg/s' },
  ],
  [['mdps', 'mdeg/s', 'mdegs', 'mdegps'], { kind: 'gyro', unit: 'mdeg/s' }],
  [['s', 'sec', 'secs', 'second', 'seconds'], { kind: 'time', unit: 's' }],
  [['ms', 'msec', 'msecs', 'millis', 'milliseconds', 'millisecond'], { kind: 'time', unit: 'ms' }],
  [['us', 'usec', 'usecs', 'micros', 'microseconds', 'microsecond'], { kind: 'time', unit: 'us' }],
  [['ns', 'nsec', 'nsecs', 'nanos', 'nanoseconds', 'nanosecond'], { kind: 'time', unit: 'ns' }],
]

const UNITS = new Map(SPELLINGS.flatMap(([names, unit]) => names.map((name) => [name, unit] as const)))

/** The unit a text names (`m/s^2`, `deg/s`, `µs`, …), or null. */
export function unitOf(text: string): Unit | null {
  const plain = text
    .toLowerCase()
    .replace(/[²]/g, '2')
    .replace(/⁻/g, '-')
    .replace(/¹/g, '1')
    .replace(/[µμ]/g, 'u')
    .replace(/[\s^·*._()]/g, '')
  return UNITS.get(plain) ?? null
}
