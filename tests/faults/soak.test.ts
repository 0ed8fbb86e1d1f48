import { expect, it } from 'vitest'
import { runSoak } from '../soak/run.ts'

const TIMEOUT = { timeout: 600_000 }

it(
  'everything killed again and again for a minute: nothing acknowledged is lost, doubled or changed',
  TIMEOUT,
  async () => {
    const options = {
      minutes: 1,
      streams: 12,
      seed: 11,
      series: 'sqlite',
      kills: ['server', 'network'],
    } as const
    const { problems, faults, recordings, samples } = await runSoak(options)
    expect(problems).toEqual([])
    // Otherwise it would prove less than it says.
    expect(faults.server.scheduled).toBeGreaterThanOrEqual(3)
    expect(faults.server.done).toBe(faults.server.scheduled)
    expect(faults.network.scheduled).toBeGreaterThanOrEqual(15)
    expect(faults.network.done).toBe(faults.network.scheduled)
    expect(recordings.connections).toBeGreaterThan(options.streams * faults.server.done)
    expect(recordings.finished).toBe(recordings.all)
    expect(recordings.marks).toBeGreaterThan(options.streams)
    expect(samples.sentTwice).toBeGreaterThan(0)
    expect(samples.lostRanges).toBeGreaterThan(options.streams)
    expect(samples.acknowledged).toBeGreaterThan(options.streams * 1500)
    expect(samples.throughApi.exact).toBe(samples.acknowledged)
    expect(samples.inStore.exact).toBe(samples.acknowledged)
  },
)

it('finds out a server that acknowledges before it has stored', TIMEOUT, async () => {
  const { href } = new URL('../soak/broken/acknowledge-early.mjs', import.meta.url)
  const options = { minutes: 0.5, streams: 4, seed: 12, series: 'sqlite', kills: ['server'] } as const
  const { problems, faults, samples } = await runSoak(options, { preload: href })
  expect(faults.server.done).toBeGreaterThan(0)
  expect(problems).toContainEqual(expect.stringMatching(/acknowledged up to \d+, welcomed at \d+/))
  expect(problems).toContainEqual(expect.stringMatching(/through the API: .*"lost":[1-9]/))
  expect(samples.throughApi.lost).toBeGreaterThan(0)
  expect(samples.inStore.lost).toBe(samples.throughApi.lost)
})
