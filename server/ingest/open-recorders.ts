import type { FastifyBaseLogger } from 'fastify'
import type { SessionSummary } from '#protocol/resources'
import { parseMount } from '#signal/mount/mount'
import type { Hub } from '../live/hub.ts'
import { sessionPlan } from '../store/session-plan.ts'
import type { Store } from '../store/store.ts'
import type { StreamRecord } from '../store/time-series.ts'
import { NO_METER } from './meter.ts'
import type { IngestMeter } from './meter.ts'
import { Recorder } from './recorder.ts'

/** The recorders of the sessions being recorded, one each, built from what is stored when first needed. */
export class OpenRecorders {
  readonly #store: Store
  readonly #hub: Hub
  readonly #log: FastifyBaseLogger
  readonly #meter: IngestMeter
  readonly #recorders = new Map<string, Promise<Recorder>>()

  constructor(store: Store, hub: Hub, log: FastifyBaseLogger, meter: IngestMeter = NO_METER) {
    this.#store = store
    this.#hub = hub
    this.#log = log
    this.#meter = meter
  }

  /** The recorder that is there, if any. */
  get(sessionId: string): Promise<Recorder> | undefined {
    return this.#recorders.get(sessionId)
  }

  delete(sessionId: string): void {
    this.#recorders.delete(sessionId)
  }

  open(session: SessionSummary, stream: StreamRecord): Promise<Recorder> {
    const known = this.#recorders.get(session.id)
    if (known) return known
    const opening = this.#build(session, stream)
    this.#recorders.set(session.id, opening)
    opening.catch(() => this.#recorders.delete(session.id))
    return opening
  }

  /** Those whose live analysis had to wait for samples that can be read again. */
  async rebuildStalled(): Promise<void> {
    for (const recorder of await Promise.all(this.#recorders.values())) {
      if (!recorder.isStalled) continue
      await recorder.rebuild(await this.#store.records.marks(recorder.stream.sessionId))
    }
  }

  async #build(session: SessionSummary, stream: StreamRecord): Promise<Recorder> {
    const { records, series } = this.#store
    const recorder = await Recorder.open({
      series,
      stream,
      title: {
        session: session.id,
        dogName: session.dogName,
        rateHz: stream.rateHz,
        startedAtUs: stream.startedAtUs ?? 0,
        headingResolved: session.mount !== 'auto',
        ...(await sessionPlan(records, session)),
      },
      mount: parseMount(session.mount),
      marks: await records.marks(session.id),
      channel: this.#hub.channel(session.id),
      log: this.#log,
      meter: this.#meter,
    })
    // A recorder that fails stays no longer: the next sender gets one built from what is stored.
    recorder.onFailure = () => void this.#forget(recorder)
    return recorder
  }

  async #forget(recorder: Recorder): Promise<void> {
    const { sessionId } = recorder.stream
    const current = this.#recorders.get(sessionId)
    if (current && (await current) === recorder) this.#recorders.delete(sessionId)
  }
}
