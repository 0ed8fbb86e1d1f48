import { readFileSync } from 'node:fs'

const FOLDER = new URL('../../sample-traces/', import.meta.url)

/** A sample trace with acceleration in g as a sensor of 1/4096 g would count it, repeated to `samples`. */
export function recordedCounts(file: string, samples: number): Int16Array {
  const rows = readFileSync(new URL(file, FOLDER), 'utf8')
    .split('\n')
    .filter((line) => /^\d/.test(line))
    .map((line) => line.split(',').slice(1, 4).map(Number))
  const counts = new Int16Array(3 * samples)
  for (let i = 0; i < counts.length; i++) {
    counts[i] = Math.round(4096 * rows[Math.floor(i / 3) % rows.length][i % 3])
  }
  return counts
}
