import type { Hello, StoredMark } from '#protocol/messages'
import type { SessionSummary } from '#protocol/resources'
import { requireReadable } from '../analysis/unreadable-parts.ts'
import { requireWithinReach } from '../analysis/within-reach.ts'
import { ServerError } from '../errors.ts'
import type { Author } from '../store/changes.ts'
import { AbandonedTimers } from './abandoned-timers.ts'
import { Endings } from './endings.ts'
import type { EndingParts } from './endings.ts'
import { OpenRecorders } from './open-recorders.ts'
import type { IngestMeter } from './meter.ts'
import { openStream } from './open-stream.ts'
import { Recorder } from './recorder.ts'
import type { RecorderListener } from './recorder.ts'
import { tell } from '../log/tell.ts'

export interface IngestParts extends EndingParts {
  readonly abandonMs: number
  readonly meter?: IngestMeter
}

/** Where a mark comes from: a sender that has it already, a person that the audit trail names. */
interface MarkOrigin {
  readonly from?: RecorderListener
  readonly by?: Author
}

/**
 * All sessions being recorded. A stream outlives its sockets: the recorder stays while the sender
 * is away, is rebuilt from the store after a restart, and is finished when the sender says so or
 * stays away too long.
 */
export class Ingest {
  readonly #parts: IngestParts
  readonly #recorders: OpenRecorders
  readonly #endings: Endings
  readonly #abandoned: AbandonedTimers
  #closed = false

  constructor(parts: IngestParts) {
    this.#parts = parts
    this.#recorders = new OpenRecorders(parts.store, parts.hub, parts.log, parts.meter)
    this.#endings = new Endings(parts)
    this.#abandoned = new AbandonedTimers(parts.abandonMs, (sessionId) => {
      this.#finishAbandoned(sessionId).catch((err: unknown) => {
        tell(parts.log, 'recording.not-ended', { err, sessionId })
      })
    })
  }

  /** After a start: recordings wait for their senders, what was being analysed is analysed again. */
  async resume(): Promise<void> {
    const { records, series } = this.#parts.store
    for (const session of await records.sessionsInState('recording')) {
      const stream = await series.streamOfSession(session.id)
      const complete = stream !== null && (await series.state(stream.id)).complete
      if (complete) this.#endings.endUnasked(session.id)
      else this.#abandoned.start(session.id)
    }
    for (const session of await records.sessionsInState('analysing')) {
      // An interrupted upload was never answered: whoever sent it will try again.
      if (session.fileName !== null) await records.deleteSession(session.id)
      else this.#endings.endUnasked(session.id)
    }
  }

  /** Samples that were out of reach can be read again: what had to wait for them follows. */
  seriesBack(): void {
    if (this.#closed) return
    this.#parts.analyses.runPostponed()
    this.#recorders.rebuildStalled().catch((err: unknown) => {
      tell(this.#parts.log, 'live-analysis.not-rebuilt', { err })
    })
  }

  /** A session was opened: a sender that never comes is like one that stays away. */
  expectSender(sessionId: string): void {
    this.#abandoned.start(sessionId)
  }

  /**
   * Attaches a sender; an older sender of the stream is told that it was replaced. Everything below
   * the recorder's next index is stored when this resolves.
   */
  async attach(hello: Hello, listener: RecorderListener): Promise<Recorder> {
    const { records, series } = this.#parts.store
    await this.#endings.get(hello.session)
    const session = await records.session(hello.session)
    if (!session || session.fileName !== null) {
      throw new ServerError('SESSION_UNKNOWN', { sessionId: hello.session })
    }
    const stream = await openStream(this.#parts.store, hello)
    const { complete } = await series.state(stream.id)
    if (complete) {
      // Its analysis could not be stored the last time: finish waits for the new one.
      if (session.state === 'analysing') this.#endings.endUnasked(session.id)
      const ended = await Recorder.ended(series, stream, this.#parts.log)
      ended.listener = listener
      return ended
    }
    // Finished because the sender stayed away: it is back with the rest.
    if (session.state !== 'recording') {
      await records.updateSession(session.id, { state: 'recording', problem: null })
    }
    // Ended while this was looked up: the same as a hello that comes now.
    if (this.#endings.get(session.id)) return this.attach(hello, listener)
    const recorder = await this.#recorders.open({ ...session, state: 'recording' }, stream)
    await recorder.settled()
    recorder.listener?.failed(new ServerError('TAKEN_OVER'))
    recorder.listener = listener
    this.#abandoned.stop(session.id)
    this.#parts.hub.channel(session.id).sender(true)
    return recorder
  }

  /** The sender's socket is gone. A sender that was replaced changes nothing. */
  detach(recorder: Recorder, listener: RecorderListener): void {
    if (recorder.listener !== listener || this.#closed) return
    recorder.listener = null
    const { sessionId } = recorder.stream
    if (recorder.finished || recorder.closed?.code === 'SESSION_DELETED') return
    this.#parts.hub.channel(sessionId).sender(false)
    this.#abandoned.start(sessionId)
  }

  /** The recorder of a session that is being recorded, built when needed; null before its stream and at its end. */
  async recorderOf(session: SessionSummary): Promise<Recorder | null> {
    if (session.state !== 'recording') return null
    const stream = await this.#parts.store.series.streamOfSession(session.id)
    // Of a session that takes no more a recorder would stay for ever.
    if (!stream || this.isEnding(session.id)) return null
    return this.#recorders.open(session, stream)
  }

  /** Whether viewers of the session will be told its end: it is on its way from recorded to analysed. */
  isEnding(sessionId: string): boolean {
    return this.#endings.get(sessionId) !== undefined
  }

  /**
   * Stores a mark; a mark whose id is known changes nothing. A running recording shows it, to its
   * sender too unless it came `from` there; a finished one is analysed again before this resolves.
   */
  async mark(sessionId: string, mark: StoredMark, { from, by }: MarkOrigin = {}): Promise<void> {
    if (by !== undefined) await this.requireMeasurable(sessionId)
    if (!(await this.#parts.store.records.addMark(sessionId, mark, by))) return
    const recorder = await this.#recorders.get(sessionId)
    if (recorder) recorder.mark(mark, from)
    else await this.analyseAgain(sessionId)
  }

  /** All marks of a session, ascending in time. */
  marks(sessionId: string): Promise<StoredMark[]> {
    return this.#parts.store.records.marks(sessionId)
  }

  /** Removes a mark; a running recording goes on as if it had never been. */
  async unmark(sessionId: string, markId: string, by?: Author): Promise<boolean> {
    const { records } = this.#parts.store
    await this.requireMeasurable(sessionId)
    if (!(await records.deleteMark(sessionId, markId, by))) return false
    const recorder = await this.#recorders.get(sessionId)
    if (recorder) await recorder.rebuild(await records.marks(sessionId))
    else await this.analyseAgain(sessionId)
    return true
  }

  /**
   * Asked before a change that has a recorded session measured again.
   * @throws {ServerError} when it could not be, since its samples are damaged
   * @throws {SeriesUnavailableError} when it could not be now, since they are out of reach
   */
  async requireMeasurable(sessionId: string): Promise<void> {
    const session = await this.#parts.store.records.session(sessionId)
    if (!session || session.state === 'recording') return
    const { store } = this.#parts
    // A change that is refused is better than figures that no longer fit.
    await requireWithinReach(store, sessionId)
    await requireReadable(store, sessionId)
  }

  /** Analyses a session that is not being recorded again; resolves when the result is stored. */
  async analyseAgain(sessionId: string): Promise<void> {
    await this.#endings.get(sessionId)
    const session = await this.#parts.store.records.session(sessionId)
    if (session && session.state !== 'recording') await this.#parts.analyses.run(sessionId)
  }

  /**
   * Ends the stream as its sender says: stored and analysed when this resolves. A second time it
   * only confirms. Gives the number of samples, lost ones included.
   */
  async finish(recorder: Recorder, nextIndex: number): Promise<number> {
    if (nextIndex > recorder.nextIndex) {
      throw new ServerError('FRAME_GAP', { missingIndex: recorder.nextIndex })
    }
    if (nextIndex < recorder.nextIndex) {
      throw new ServerError('FINISH_TOO_EARLY', { nextIndex: recorder.nextIndex })
    }
    if (!recorder.finished) {
      await recorder.settled()
      await this.#parts.store.series.complete(recorder.stream.id)
      await this.#end(recorder)
    }
    await this.#endings.get(recorder.stream.sessionId)
    return nextIndex
  }

  /**
   * Ends a recording at what is stored, wherever its sender is; stored and analysed when this
   * resolves. A connected sender is told that the session takes no more samples.
   * @throws {ServerError} when the session is not being recorded
   */
  async finishStored(sessionId: string, by: Author): Promise<void> {
    const session = await this.#parts.store.records.session(sessionId)
    if (!session) throw new ServerError('SESSION_NOT_FOUND', { sessionId })
    if (session.state !== 'recording') {
      throw new ServerError('SESSION_NOT_RECORDING', { sessionId, state: session.state })
    }
    const recorder = await this.recorderOf(session)
    const ending = this.#endings.get(sessionId)
    // Its sender, or somebody else, finishes it this very moment.
    if (ending) await ending
    else if (recorder) await this.#cut(recorder, by)
    else await this.#failWithoutSamples(sessionId, by)
  }

  /** The session was deleted: its sender and viewers are told. */
  async drop(sessionId: string): Promise<void> {
    this.#abandoned.stop(sessionId)
    const recorder = await this.#recorders.get(sessionId)
    this.#recorders.delete(sessionId)
    recorder?.fail(new ServerError('SESSION_DELETED', { sessionId }))
    this.#parts.hub.end(sessionId)
  }

  /** Stops timers; recordings stay as they are stored. */
  async close(): Promise<void> {
    this.#closed = true
    this.#abandoned.close()
    await this.#endings.settled()
  }

  async #end(recorder: Recorder): Promise<void> {
    if (recorder.finished) return
    this.#retire(recorder)
    await this.#endings.end(recorder.stream.sessionId)
  }

  /** The same in the middle of a stream: what was taken is stored first, then the sender is told. */
  #cut(recorder: Recorder, by: Author): Promise<void> {
    const { id, sessionId } = recorder.stream
    this.#retire(recorder)
    const before = async () => {
      await recorder.drained()
      await this.#parts.store.series.complete(id)
      recorder.listener?.failed(new ServerError('SESSION_FINISHED', { sessionId }))
      recorder.listener = null
    }
    return this.#endings.end(sessionId, { before, by })
  }

  /** The recorder takes nothing more from here on. */
  #retire(recorder: Recorder): void {
    recorder.finish()
    this.#recorders.delete(recorder.stream.sessionId)
    this.#abandoned.stop(recorder.stream.sessionId)
  }

  async #failWithoutSamples(sessionId: string, by?: Author): Promise<void> {
    const { records } = this.#parts.store
    this.#abandoned.stop(sessionId)
    const change = { state: 'failed', problem: 'No samples arrived.' } as const
    await (by === undefined
      ? records.updateSession(sessionId, change)
      : records.endSession(sessionId, change, by))
    this.#parts.hub.end(sessionId)
  }

  async #finishAbandoned(sessionId: string): Promise<void> {
    const { records } = this.#parts.store
    const session = await records.session(sessionId)
    if (session?.state !== 'recording') return
    const recorder = await this.recorderOf(session)
    if (this.isEnding(sessionId)) return
    if (!recorder) {
      await this.#failWithoutSamples(sessionId)
    } else if (!recorder.listener) {
      await recorder.settled()
      await this.#end(recorder)
    }
  }
}
