import { readFileSync } from 'node:fs'
import { expect } from 'vitest'

/** A committed JSON file of tests/reference/vectors; the caller names the shape it relies on. */
export function readVectors<T>(name: string): T {
  return JSON.parse(readFileSync(new URL(`./vectors/${name}.json`, import.meta.url), 'utf8')) as T
}

/** Fails unless |actual − expected| <= tolerance·|expected|. */
export function expectRelative(
  actual: number | null,
  expected: number,
  tolerance: number,
  what: string,
): void {
  expect(actual, what).not.toBeNull()
  const error = Math.abs(actual! - expected) / Math.abs(expected)
  expect(error, `${what}: got ${actual}, expected ${expected}`).toBeLessThanOrEqual(tolerance)
}

/** Fails unless the shapes agree and every |difference| <= tolerance · the largest |expected|. */
export function expectSeries(
  actual: ArrayLike<number>,
  expected: ArrayLike<number>,
  tolerance: number,
  what: string,
): void {
  expect(actual.length, `${what}: length`).toBe(expected.length)
  let scale = Number.MIN_VALUE
  let largest = 0
  for (let i = 0; i < expected.length; i++) {
    scale = Math.max(scale, Math.abs(expected[i]))
    // A NaN on either side must not pass.
    const difference = Math.abs(actual[i] - expected[i])
    largest = Number.isNaN(difference) ? Infinity : Math.max(largest, difference)
  }
  expect(largest / scale, `${what}: largest difference over largest value`).toBeLessThanOrEqual(tolerance)
}
