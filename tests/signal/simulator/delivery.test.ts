import { describe, expect, it } from 'vitest'
import { recordedSession, simulateDelivery } from '#signal/simulator/delivery'
import { simulateSession } from '#signal/simulator/session'
import { EVERYTHING, scene } from './scenes.ts'

const session = simulateSession(scene(EVERYTHING, { sensor: { gyroscope: true } }))
const long = simulateSession(scene([{ kind: 'quiet-stand', durationS: 600 }]))

describe('simulateDelivery', () => {
  it('gives the same packets for the same seed', () => {
    const options = { seed: 1, lossRate: 0.02, stalls: { perMinute: 2, meanS: 0.5 } }
    expect(simulateDelivery(session, options)).toEqual(simulateDelivery(session, options))
    expect(simulateDelivery(session, options)).not.toEqual(simulateDelivery(session, { ...options, seed: 2 }))
  })

  it('delivers every sample once and in order when nothing is lost', () => {
    const packets = simulateDelivery(session, { seed: 1, samplesPerPacket: 7 })
    let next = 0
    for (const { firstIndex, count } of packets) {
      expect(firstIndex).toBe(next)
      next += count
    }
    expect(next).toBe(session.trace.t.length)
  })

  it('loses packets at the scripted rate, never the first', () => {
    const packets = simulateDelivery(long, { seed: 3, samplesPerPacket: 6, lossRate: 0.05 })
    const sent = Math.ceil(long.trace.t.length / 6)
    // 10,000 packets: standard error of the share 0.0022; four of them allowed.
    expect(Math.abs(1 - packets.length / sent - 0.05)).toBeLessThan(0.009)
    expect(packets[0].firstIndex).toBe(0)
  })

  it('is late only: no packet arrives before its last sample, and arrivals ascend', () => {
    const packets = simulateDelivery(session, {
      seed: 4,
      lossRate: 0.02,
      stalls: { perMinute: 4, meanS: 0.5 },
    })
    packets.forEach(({ firstIndex, count, arrivedAtS }, i) => {
      expect(arrivedAtS).toBeGreaterThanOrEqual(session.trace.t[firstIndex + count - 1])
      if (i > 0) expect(arrivedAtS).toBeGreaterThan(packets[i - 1].arrivedAtS)
    })
  })

  it('waits about half a connection interval on average on a good link', () => {
    const packets = simulateDelivery(long, {
      seed: 5,
      connectionIntervalS: 0.0293,
      retryRate: 0,
      samplesPerPacket: 7,
    })
    const delays = packets.map(
      ({ firstIndex, count, arrivedAtS }) => arrivedAtS - long.trace.t[firstIndex + count - 1],
    )
    const meanS = delays.reduce((sum, delay) => sum + delay, 0) / delays.length
    // Uniform over one interval (it does not divide the packet's 70 ms), plus a fiftieth for the sending.
    expect(Math.abs(meanS - (0.01465 + 0.0006))).toBeLessThan(0.001)
    expect(Math.max(...delays)).toBeLessThan(0.032)
  })

  it('holds packets back in stalls and sends them in a burst', () => {
    const packets = simulateDelivery(long, { seed: 6, stalls: { perMinute: 2, meanS: 1 } })
    const waits = packets.slice(1).map(({ arrivedAtS }, i) => arrivedAtS - packets[i].arrivedAtS)
    expect(Math.max(...waits)).toBeGreaterThan(1)
    const longest = waits.indexOf(Math.max(...waits))
    expect(waits[longest + 1]).toBeLessThan(0.01)
  })

  it('refuses impossible links', () => {
    expect(() => simulateDelivery(session, { seed: 1, lossRate: 1 })).toThrow('lossRate in [0, 1), got 1')
    expect(() => simulateDelivery(session, { seed: 1, samplesPerPacket: 0 })).toThrow('samplesPerPacket >= 1')
  })
})

describe('recordedSession', () => {
  it('leaves out the lost samples, keeps the times of the others and counts the loss', () => {
    const packets = simulateDelivery(session, { seed: 7, lossRate: 0.05 })
    const { trace, truth } = recordedSession(session, packets)
    expect(truth.lostSamples).toBeGreaterThan(0)
    expect(trace.t.length + truth.lostSamples).toBe(session.trace.t.length)
    trace.t.forEach((tS, i) => {
      const original = Math.round(tS * 100)
      expect(trace.acc.y[i]).toBe(session.trace.acc.y[original])
      expect(trace.gyr?.z[i]).toBe(session.trace.gyr?.z[original])
    })
    expect(trace.t[0]).toBe(0)
  })
})
