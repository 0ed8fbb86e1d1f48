import type { Page } from 'playwright-core'
import { expect } from 'vitest'

/** Samples by index of the stream: six channels each. */
export type Truth = ReadonlyMap<number, readonly number[]>

/** Makes every page opened from now on remember each sample it gives to the recorder's Worker. */
export async function keepTruth(page: Page): Promise<void> {
  await page.addInitScript(() => {
    const truth: [number, number[]][] = []
    Object.assign(window, { recordedTruth: truth })
    const post = Worker.prototype.postMessage as (this: Worker, message: unknown) => void
    Worker.prototype.postMessage = function (this: Worker, message: unknown) {
      const given = message as { type?: string; firstIndex: number; values: Float64Array[] }
      if (given?.type === 'samples') {
        for (let i = 0; i < given.values[0].length; i++) {
          truth.push([given.firstIndex + i, given.values.map((channel) => channel[i])])
        }
      }
      post.call(this, message)
    } as typeof Worker.prototype.postMessage
  })
}

export async function truthOf(page: Page): Promise<Truth> {
  const samples = await page.evaluate(
    () => (window as unknown as { recordedTruth: [number, number[]][] }).recordedTruth,
  )
  return new Map(samples)
}

/**
 * Expects the stored trace to hold every sample of the truth exactly once, and nothing else up to its
 * end. Samples travel as float32; times are index ÷ rate since the first one.
 *
 * @param goesOn the recording went on after the truth was read: later samples are not looked at
 */
export async function expectStoredOnce(
  page: Page,
  sessionId: string,
  truth: Truth,
  { goesOn = false } = {},
): Promise<void> {
  const response = await page.request.get(new URL(`/api/sessions/${sessionId}/trace.csv`, page.url()).href)
  const lines = (await response.text()).trim().split('\n')
  const rateHz = Number(/rate: ([\d.]+) Hz/.exec(lines.join('\n'))?.[1])
  const header = lines.findIndex((line) => line.startsWith('t_s,'))
  const last = Math.max(...truth.keys())
  const rows = lines
    .slice(header + 1)
    .map((line) => line.split(',').map(Number))
    .filter(([tS]) => !goesOn || Math.round(tS * rateHz) <= last)
  const indices = rows.map(([tS]) => Math.round(tS * rateHz))
  expect(new Set(indices).size, 'every index once').toBe(rows.length)
  expect(rows.length, 'number of samples').toBe(truth.size)
  const wrong = rows.filter((row, k) => {
    const expected = truth.get(indices[k])
    return !expected || expected.some((value, c) => Math.fround(value) !== row[c + 1])
  })
  expect(wrong.slice(0, 3), 'samples that differ').toEqual([])
}
