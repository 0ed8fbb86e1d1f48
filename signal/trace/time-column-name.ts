import { readColumnName } from './column-name.ts'

const MAIN = ['t', 'time', 'timestamp', 'ts', 'datetime', 'date', 'epoch', 'elapsed']
const WORDS = new Set([
  ...MAIN,
  ...[
    'stamp',
    'unix',
    'since',
    'start',
    'started',
    'in',
    'of',
    'utc',
    'iso',
    'iso8601',
    'sensor',
    'sample',
    'sampling',
  ],
  ...[
    'relative',
    'rel',
    'local',
    'host',
    'device',
    'rec',
    'recording',
    'the',
    'from',
    'seconds',
    'sec',
    's',
    'ms',
    'us',
    'ns',
  ],
  ...['millis', 'milliseconds', 'micros', 'microseconds', 'nanos', 'nanoseconds', 'system'],
])
const UNIT_ALONE = new Set([
  's',
  'sec',
  'secs',
  'seconds',
  'ms',
  'msec',
  'millis',
  'milliseconds',
  'us',
  'micros',
  'ns',
  'nanos',
])

/**
 * How surely a column name means the time of the sample: 0 not at all, 1 a unit standing alone,
 * 2 time words, 3 exactly `t`, `time` or `timestamp` (with or without a unit).
 */
export function timeNameRank(name: string): 0 | 1 | 2 | 3 {
  const plain = name.trim().toLowerCase()
  if (UNIT_ALONE.has(plain)) return 1
  const { words, axis, unit } = readColumnName(name)
  if (axis !== null || words.length === 0 || (unit !== null && unit.kind !== 'time')) return 0
  if (!words.every((word) => WORDS.has(word))) return 0
  if (words.length === 1 && ['t', 'time', 'timestamp'].includes(words[0])) return 3
  return words.some((word) => MAIN.includes(word)) ? 2 : 1
}
