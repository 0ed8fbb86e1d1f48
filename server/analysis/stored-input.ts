import { streamClock } from '#signal/clock/stream-clock'
import type { StreamClock } from '#signal/clock/stream-clock'
import type { AnalysisInput } from '#signal/report'
import type { Trace } from '#signal/trace/trace'
import type { StoredMark } from '#protocol/messages'
import { signalMark } from '../ingest/replay.ts'
import { shownS, timeScale } from '../store/time-axis.ts'
import type { Store } from '../store/store.ts'
import { CorruptBlockError } from '../store/time-series.ts'
import type { StreamRecord } from '../store/time-series.ts'

/**
 * What the analysis reads, rebuilt from the store; null when the session holds no samples. Samples of a
 * live stream, and marks, which are stored in seconds of its nominal rate, lie where its clock puts them:
 * by the arrival of its packets once it has ended, by its nominal rate while it goes on.
 * @throws {CorruptBlockError} when stored samples are damaged, unless those are to be left out
 */
export async function storedInput(
  store: Pick<Store, 'records' | 'series'>,
  sessionId: string,
  { leaveOutDamaged = false } = {},
): Promise<AnalysisInput | null> {
  const stream = await store.series.streamOfSession(sessionId)
  const session = await store.records.session(sessionId)
  if (!stream || !session) return null
  const startedAtUs = statedStartUs(session.startedAt, stream.startedAtUs)
  const marks = await store.records.marks(sessionId)
  const clock = session.state === 'recording' ? undefined : await clockOf(store, stream)
  const trace = await storedTrace(store, { ...stream, startedAtUs }, marks, clock, leaveOutDamaged)
  if (trace.t.length === 0) return null
  return {
    trace,
    ...(stream.source ?? { unit: 'm/s2' }),
    resolutionMs2: stream.resolutionMs2,
    ...(session.fileName !== null && { file: session.fileName }),
    ...(clock && { clock }),
  }
}

/** The start a person gave the session wins over that of its samples, which is exact to the microsecond. */
function statedStartUs(startedAt: string | null, ofSamplesUs: number | null): number | null {
  if (startedAt === null) return ofSamplesUs
  const statedMs = Date.parse(startedAt)
  if (ofSamplesUs !== null && Math.trunc(ofSamplesUs / 1000) === statedMs) return ofSamplesUs
  return statedMs * 1000
}

/** Undefined for an uploaded trace, which brought its own times. */
async function clockOf(
  { series }: Pick<Store, 'series'>,
  stream: StreamRecord,
): Promise<StreamClock | undefined> {
  if (stream.kind !== 'live') return undefined
  const arrivals = await series.arrivals(stream.id)
  const startedAtUs = stream.startedAtUs ?? arrivals[0]?.arrivedAtUs ?? 0
  const index = Float64Array.from(arrivals, (arrival) => arrival.index)
  const arrivedS = Float64Array.from(arrivals, ({ arrivedAtUs }) => (arrivedAtUs - startedAtUs) / 1e6)
  return streamClock(index, arrivedS, stream.rateHz)
}

/** The stored samples as a trace. Live samples lie at index / rate; lost ones are simply missing. */
async function storedTrace(
  store: Pick<Store, 'series'>,
  stream: StreamRecord,
  marks: readonly StoredMark[],
  clock: StreamClock | undefined,
  leaveOutDamaged: boolean,
): Promise<Trace> {
  const { nextIndex } = await store.series.state(stream.id)
  const lost = await store.series.lostRanges(stream.id)
  const count = nextIndex - lost.reduce((sum, range) => sum + range.count, 0)
  const names = stream.columns
  const columns = new Map(names.map((name) => [name, new Float64Array(count)]))
  const index = stream.kind === 'live' ? new Float64Array(count) : null
  let filled = 0
  const leaveOut = leaveOutDamaged ? () => undefined : undefined
  for await (const block of store.series.readSamples(stream.id, 0, nextIndex, leaveOut)) {
    for (const [c, name] of names.entries()) columns.get(name)!.set(block.values[c], filled)
    for (let i = 0; index && i < block.count; i++) index[filled + i] = block.firstIndex + i
    filled += block.count
  }
  if (filled < count && !leaveOutDamaged) {
    const [range] = await store.series.damaged(stream.id)
    throw new CorruptBlockError(stream.id, range, `samples of stream ${stream.id} are gone`)
  }
  const column = (name: string) => columns.get(name)!.subarray(0, filled)
  return {
    t: index ? secondsFromFirst(index.subarray(0, filled), clock?.rateHz ?? stream.rateHz) : column('t'),
    acc: { x: column('ax'), y: column('ay'), z: column('az') },
    ...(columns.has('gx') && { gyr: { x: column('gx'), y: column('gy'), z: column('gz') } }),
    startedAtUs: stream.startedAtUs,
    rateHz: stream.rateHz,
    marks: marks.map((mark) => signalMark({ ...mark, atS: shownS(mark.atS, timeScale(clock)) })),
  }
}

function secondsFromFirst(index: Float64Array, rateHz: number): Float64Array {
  for (let i = 0; i < index.length; i++) index[i] /= rateHz
  return index
}
