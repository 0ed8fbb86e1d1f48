import { readFileSync } from 'node:fs'

const FOLDER = new URL('../../sample-traces/', import.meta.url)

/**
 * A sample trace with acceleration in g as a sensor of 1/4096 g would count it, its rows repeated to
 * `samples`; before that its first `quietRows` again and again for `quietSamples`, as a dog that waits.
 */
export function recordedCounts(
  file: string,
  samples: number,
  { quietRows = 1, quietSamples = 0 } = {},
): Int16Array {
  const rows = readFileSync(new URL(file, FOLDER), 'utf8')
    .split('\n')
    .filter((line) => /^\d/.test(line))
    .map((line) => line.split(',').slice(1, 4).map(Number))
  const counts = new Int16Array(3 * samples)
  for (let i = 0; i < samples; i++) {
    const row = i < quietSamples ? rows[i % quietRows] : rows[(i - quietSamples) % rows.length]
    row.forEach((valueG, axis) => (counts[3 * i + axis] = Math.round(4096 * valueG)))
  }
  return counts
}
