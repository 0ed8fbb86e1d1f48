import { createRandom } from '../../../signal/simulator/random.ts'

/** A radio link in which delay is one-sided: nothing comes early. */
export interface Link {
  readonly seed: number | string
  readonly durationS: number
  readonly nominalRateHz: number
  /** How much faster than nominal the sensor samples, parts per million. */
  readonly ppm: number
  readonly samplesPerPacket: number
  /** Extra delay drawn evenly from 0 to this, s. */
  readonly jitterS: number
  readonly lossShare: number
  /** Packets leave at multiples of this, s; 0 for at once. */
  readonly connectionIntervalS: number
  /** Share of sendings that fail and wait for the next multiple. */
  readonly retryShare: number
  /** One stall of 0.5 to 3 s about every so many seconds; 0 for none. */
  readonly stallEveryS: number
}

export interface Received {
  /** Index of the last sample of each packet received. */
  readonly index: number[]
  readonly arrivedS: number[]
  /** Seconds at which sample n was taken. */
  readonly trueS: (index: number) => number
  readonly trueRateHz: number
}

const LEAST_DELAY_S = 0.004

/** Packets in order of arrival, which is that of sending: a link layer delivers in order. */
export function receive(link: Link): Received {
  const random = createRandom(link.seed)
  const trueRateHz = link.nominalRateHz * (1 + link.ppm * 1e-6)
  const phaseS = random.uniform(0, link.connectionIntervalS || 1)
  const stalls: { fromS: number; toS: number }[] = []
  for (let atS = 0; link.stallEveryS > 0;) {
    atS += link.stallEveryS * random.uniform(0.5, 1.5)
    if (atS > link.durationS) break
    stalls.push({ fromS: atS, toS: atS + random.uniform(0.5, 3) })
  }
  const index: number[] = []
  const arrivedS: number[] = []
  let newestS = -Infinity
  for (
    let last = link.samplesPerPacket - 1;
    last / trueRateHz < link.durationS;
    last += link.samplesPerPacket
  ) {
    const readyS = last / trueRateHz + LEAST_DELAY_S + random.uniform(0, link.jitterS)
    const isLost = random.uniform() < link.lossShare
    const stall = stalls.find(({ fromS, toS }) => readyS >= fromS && readyS < toS)
    const sentS = stall?.toS ?? readyS
    const interval = link.connectionIntervalS
    let eventS = interval > 0 ? phaseS + Math.ceil((sentS - phaseS) / interval) * interval : sentS
    while (random.uniform() < link.retryShare) eventS += interval
    newestS = Math.max(newestS + 0.0005, eventS)
    if (isLost && index.length > 0) continue
    index.push(last)
    arrivedS.push(newestS)
  }
  return { index, arrivedS, trueS: (n) => n / trueRateHz, trueRateHz }
}
