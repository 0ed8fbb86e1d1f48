import type { Trace, Vector3Series } from '../trace/trace.ts'
import { createRandom } from './random.ts'
import type { Random } from './random.ts'
import type { SimulatedSession } from './truth.ts'

/** How a radio link delivers packets of samples. */
export interface DeliveryOptions {
  readonly seed: number | string
  /** Samples per packet; default 10. */
  readonly samplesPerPacket?: number
  /** Time between chances to send, s; default 0.045. */
  readonly connectionIntervalS?: number
  /** Chance of a packet to be lost for good, 0..1; default 0. */
  readonly lossRate?: number
  /** Chance that a sending fails and waits for the next chance, 0..1; default 0.05. */
  readonly retryRate?: number
  /** Spells in which nothing gets through; what queued up arrives in a burst afterwards. */
  readonly stalls?: { readonly perMinute: number; readonly meanS: number }
}

/** A packet as it arrives; a packet lost is an index gap to the next. */
export interface DeliveredPacket {
  readonly firstIndex: number
  readonly count: number
  /** Seconds after the first sample was taken; never before the packet's last sample, and ascending. */
  readonly arrivedAtS: number
}

/** Packets sent at one connection event at most. */
const PACKETS_PER_EVENT = 4

/**
 * The packets of a session in order of arrival. Delay is one-sided: a packet leaves at the first
 * connection event after its last sample, later after failed sendings and stalls. The first packet is
 * never lost, because a recording starts with it.
 *
 * @throws {RangeError} when a rate is outside [0, 1), or a packet would be empty
 */
export function simulateDelivery(
  session: SimulatedSession,
  options: DeliveryOptions,
): readonly DeliveredPacket[] {
  const { samplesPerPacket = 10, connectionIntervalS = 0.045, lossRate = 0, retryRate = 0.05 } = options
  if (!Number.isInteger(samplesPerPacket) || samplesPerPacket < 1) {
    throw new RangeError(`simulateDelivery requires samplesPerPacket >= 1 (whole), got ${samplesPerPacket}`)
  }
  for (const [name, rate] of Object.entries({ lossRate, retryRate })) {
    if (!(rate >= 0 && rate < 1))
      throw new RangeError(`simulateDelivery requires ${name} in [0, 1), got ${rate}`)
  }
  const { t } = session.trace
  const random = createRandom(options.seed)
  const losses = random.split('loss')
  const retries = random.split('retry')
  const stalls = drawStalls(options, t.length === 0 ? 0 : t[t.length - 1], random.split('stalls'))
  const phaseS = random.uniform(0, connectionIntervalS)

  const packets: DeliveredPacket[] = []
  let event = 0
  let sentAtEvent = 0
  for (let firstIndex = 0; firstIndex < t.length; firstIndex += samplesPerPacket) {
    const count = Math.min(samplesPerPacket, t.length - firstIndex)
    const lost = losses.uniform() < lossRate && firstIndex > 0
    const readyS = t[firstIndex + count - 1]
    const earliest = Math.max(event, Math.ceil((readyS - phaseS) / connectionIntervalS))
    if (earliest > event) {
      event = earliest
      sentAtEvent = 0
    }
    while (
      sentAtEvent >= PACKETS_PER_EVENT ||
      retries.uniform() < retryRate ||
      isStalled(stalls, phaseS + event * connectionIntervalS)
    ) {
      event++
      sentAtEvent = 0
    }
    sentAtEvent++
    // Packets of one event follow each other by a little, so arrivals ascend strictly.
    const arrivedAtS = phaseS + event * connectionIntervalS + (sentAtEvent * connectionIntervalS) / 50
    if (!lost) packets.push({ firstIndex, count, arrivedAtS })
  }
  return packets
}

/** The session as recorded from the packets that arrived: lost samples are missing, times stay true. */
export function recordedSession(
  session: SimulatedSession,
  packets: readonly DeliveredPacket[],
): SimulatedSession {
  const { trace, truth } = session
  const kept = packets.flatMap(({ firstIndex, count }) =>
    Array.from({ length: count }, (_, i) => firstIndex + i),
  )
  const take = (x: Float64Array): Float64Array => Float64Array.from(kept, (index) => x[index])
  const takeAll = ({ x, y, z }: Vector3Series): Vector3Series => ({ x: take(x), y: take(y), z: take(z) })
  const recorded: Trace = {
    ...trace,
    t: take(trace.t),
    acc: takeAll(trace.acc),
    ...(trace.gyr && { gyr: takeAll(trace.gyr) }),
  }
  return {
    trace: recorded,
    truth: { ...truth, lostSamples: truth.lostSamples + trace.t.length - kept.length },
  }
}

function drawStalls(
  options: DeliveryOptions,
  durationS: number,
  random: Random,
): readonly { fromS: number; toS: number }[] {
  const out: { fromS: number; toS: number }[] = []
  if (!options.stalls || options.stalls.perMinute <= 0) return out
  const exponential = (mean: number): number => -mean * Math.log(1 - random.uniform())
  let atS = exponential(60 / options.stalls.perMinute)
  while (atS < durationS) {
    const toS = atS + exponential(options.stalls.meanS)
    out.push({ fromS: atS, toS })
    atS = toS + exponential(60 / options.stalls.perMinute)
  }
  return out
}

function isStalled(stalls: readonly { fromS: number; toS: number }[], atS: number): boolean {
  return stalls.some(({ fromS, toS }) => atS >= fromS && atS < toS)
}
