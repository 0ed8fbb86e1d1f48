import type { FromRecorder } from './messages'
import type { KeptSummary, OutboxStore } from './outbox-store'
import { openRecorder } from './recorder-port'
import type { OpenRecorder, RecorderPort } from './recorder-port'
import { refusalWords } from './refusal-words'
import { heldStreams } from './stream-lock'

/** A session of which something is on this device only, or which was never finished. */
export interface UnsentSession {
  readonly stream: string
  readonly sessionId: string
  readonly dogId: string
  readonly dogName: string
  /** ISO 8601. */
  readonly startedAt: string
  /** Seconds of signal the server does not have yet. */
  readonly unsentS: number
  readonly state: 'waiting' | 'sending' | 'refused' | 'failed'
  /** Why, in a sentence, for `refused` (the server will never take it) and `failed` (try again). */
  readonly message: string | null
}

export interface UnsentParts {
  openStore?: () => Promise<OutboxStore>
  open?: OpenRecorder
  held?: () => Promise<ReadonlySet<string>>
  serverUrl?: string
}

/**
 * What earlier pages of this browser left in the outbox. Lives in the app: sending goes on in a
 * Worker while the person moves between screens. Streams that another tab records or sends are not
 * shown. What the person had finished already is sent without asking.
 */
export class UnsentSessions {
  sessions = $state.raw<readonly UnsentSession[]>([])
  /** Counts sessions sent by this page: lists of sessions are worth loading again. */
  sent = $state(0)
  readonly #openStore: () => Promise<OutboxStore>
  readonly #open: OpenRecorder
  readonly #held: () => Promise<ReadonlySet<string>>
  readonly #serverUrl: string | undefined
  #senders: readonly { stream: string; port: RecorderPort }[] = []

  constructor({
    openStore = openKeptStore,
    open = openRecorder,
    held = heldStreams,
    serverUrl,
  }: UnsentParts = {}) {
    this.#openStore = openStore
    this.#open = open
    this.#held = held
    this.#serverUrl = serverUrl
  }

  /** What of one session is only here; null when nothing is, as far as `refresh` last saw. */
  of(sessionId: string): UnsentSession | null {
    return this.sessions.find((session) => session.sessionId === sessionId) ?? null
  }

  /** Looks what is there. */
  async refresh() {
    let kept: KeptSummary[]
    let held: ReadonlySet<string>
    let store: OutboxStore
    try {
      store = await this.#openStore()
      // In this order: what is begun in between is held already.
      kept = await store.list()
      held = await this.#held()
    } catch {
      // A browser that keeps nothing (private window) has nothing to show.
      return
    }
    const found: UnsentSession[] = []
    for (const summary of kept) {
      const { stream, unsentSamples, unsentMarks } = summary
      const id = stream.recording.stream
      if (held.has(id) && !this.#portOf(id)) continue
      if (unsentSamples === 0 && unsentMarks === 0 && !stream.opened) {
        // Begun and gone before its first sample: nothing of it is anywhere.
        await store.discard(id)
        continue
      }
      const known = this.sessions.find((session) => session.stream === id)
      found.push(known ?? unsentSession(summary))
    }
    this.sessions = found
    for (const { stream } of kept) {
      const id = stream.recording.stream
      if (stream.finished && found.some((session) => session.stream === id && session.state === 'waiting')) {
        this.send(id)
      }
    }
  }

  /** Sends the rest of a session and finishes it. */
  send(stream: string) {
    if (this.#portOf(stream)) return
    this.#change(stream, { state: 'sending', message: null })
    const port = this.#open((message) => this.#receive(stream, message))
    this.#senders = [...this.#senders, { stream, port }]
    port.post({ type: 'resume', stream, serverUrl: this.#serverUrl ?? location.origin })
  }

  /** Tries at once to reach the server. */
  retryNow() {
    for (const { port } of this.#senders) port.post({ type: 'retry' })
  }

  /** What is on this device as a CSV file that can be uploaded; null when no sample is left. */
  async csv(stream: string): Promise<string | null> {
    const [{ formatTraceCsv }, { keptTrace }] = await Promise.all([
      import('#signal/trace/format'),
      import('./kept-trace'),
    ])
    const kept = await (await this.#openStore()).read(stream)
    const trace = kept && keptTrace(kept)
    return trace && formatTraceCsv(trace)
  }

  /** Deletes what is on this device; what the server has stays there. */
  async discard(stream: string) {
    this.#close(stream)
    await (await this.#openStore()).discard(stream)
    this.sessions = this.sessions.filter((session) => session.stream !== stream)
  }

  #receive(stream: string, message: FromRecorder) {
    switch (message.type) {
      case 'progress':
        this.#change(stream, { unsentS: message.progress.unacknowledgedS })
        break
      case 'finished':
        this.#close(stream)
        this.sessions = this.sessions.filter((session) => session.stream !== stream)
        this.sent++
        break
      case 'refused':
        this.#close(stream)
        this.#change(stream, { state: 'refused', message: refusalWords(message) })
        break
      case 'failed':
        this.#close(stream)
        this.#change(stream, { state: 'failed', message: `That did not work: ${message.message}` })
        break
      case 'view':
        break
    }
  }

  #change(stream: string, change: Partial<UnsentSession>) {
    this.sessions = this.sessions.map((session) =>
      session.stream === stream ? { ...session, ...change } : session,
    )
  }

  #portOf(stream: string): RecorderPort | undefined {
    return this.#senders.find((sender) => sender.stream === stream)?.port
  }

  #close(stream: string) {
    this.#portOf(stream)?.close()
    this.#senders = this.#senders.filter((sender) => sender.stream !== stream)
  }
}

/** Loaded when needed: the first paint of the dashboard does without. */
async function openKeptStore(): Promise<OutboxStore> {
  const { openIdbStore } = await import('./idb-store')
  return openIdbStore()
}

function unsentSession({ stream, unsentSamples }: KeptSummary): UnsentSession {
  const { recording } = stream
  return {
    stream: recording.stream,
    sessionId: recording.session.id,
    dogId: recording.session.dogId,
    dogName: recording.dogName,
    startedAt: new Date(recording.startedAtUs / 1000).toISOString(),
    unsentS: unsentSamples / recording.rateHz,
    state: 'waiting',
    message: null,
  }
}

/** Those of this browser. */
export const unsentSessions = new UnsentSessions()
