import type { RecordingAccount } from './client-messages.ts'
import { BackOff } from './back-off.ts'
import { call } from './http-call.ts'
import { nowMs } from './now.ts'
import { FEWEST_SAMPLES, plannedSamples, Sensor } from './sensor.ts'
import { Sender } from './sender.ts'
import type { RecordingKey } from './truth.ts'
import { Viewer } from './viewer.ts'

export interface SlotOptions {
  readonly seed: number
  readonly slot: number
  readonly port: number
  readonly host: string
  readonly cookie: string | null
  readonly dogId: string
  violation(text: string): void
  window(latencyMs: number): void
}

interface Recording {
  readonly key: RecordingKey
  readonly session: string
  readonly dogId: string
  readonly stream: string
  readonly startedAtUs: number
  readonly sensor: Sensor
  readonly sender: Sender
  readonly viewer: Viewer
  /** Where it ends when nothing ends it before. */
  plannedTotal: number
  taken: number
  hasStopped: boolean
}

/** One home: one sensor after the other's recording, each with one viewer, over one line. */
export class Slot {
  readonly #options: SlotOptions
  readonly #accounts: RecordingAccount[] = []
  readonly #headers: Readonly<Record<string, string>>
  #recording: Recording | null = null
  #begun = 0
  #isEnding = false
  /** Of the recordings that are through. */
  #takenBefore = 0
  #acknowledgedBefore = 0

  constructor(options: SlotOptions) {
    this.#options = options
    const { host, cookie } = options
    this.#headers = { host, ...(cookie !== null && { cookie }) }
  }

  get taken(): number {
    return this.#takenBefore + (this.#recording?.taken ?? 0)
  }

  get acknowledged(): number {
    return this.#acknowledgedBefore + (this.#recording?.sender.acknowledged ?? 0)
  }

  get senderConnected(): boolean {
    return this.#recording?.sender.isConnected ?? false
  }

  get viewerConnected(): boolean {
    return this.#recording?.viewer.isConnected ?? false
  }

  get finished(): number {
    return this.#accounts.length
  }

  /** What is known of every recording so far. */
  accounts(): RecordingAccount[] {
    return this.#recording ? [...this.#accounts, accountOf(this.#recording)] : this.#accounts
  }

  /** Records until `end` is called and the last recording is through. */
  async run(): Promise<void> {
    while (!this.#isEnding) {
      const recording = await this.#open()
      this.#recording = recording
      const watching = recording.viewer.run()
      await recording.sender.run()
      await watching
      this.#accounts.push(accountOf(recording))
      this.#takenBefore += recording.taken
      this.#acknowledgedBefore += recording.sender.acknowledged
      this.#recording = null
    }
  }

  /** The sensor's next packet is there. */
  tick(): void {
    const recording = this.#recording
    if (!recording || recording.hasStopped) return
    const { sensor, sender, viewer } = recording
    const packet = sensor.packet()
    recording.taken = packet.firstIndex + packet.count
    sender.take({ ...packet, arrivedAtUs: Math.round(nowMs() * 1000) })
    for (const mark of sensor.newMarks()) (mark.byViewer ? viewer : sender).mark(mark)
    if (recording.taken < recording.plannedTotal) return
    recording.hasStopped = true
    sender.end(recording.taken)
    this.#allowFinish(recording)
  }

  /** The recording under way ends as soon as it is long enough to say something; no other begins. */
  end(): void {
    this.#isEnding = true
    const recording = this.#recording
    if (recording) {
      const { taken, plannedTotal } = recording
      recording.plannedTotal = Math.min(plannedTotal, Math.max(taken, FEWEST_SAMPLES))
    }
  }

  async #open(): Promise<Recording> {
    const { seed, slot, port, dogId, violation, window } = this.#options
    const key = { seed, slot, number: this.#begun++ }
    const session = `soak-recording-${seed}-${slot}-${key.number}`
    await this.#openSession(session)
    const connection = { session, port, headers: this.#headers, violation }
    const stream = `stream-${session}`
    const startedAtUs = Math.round(nowMs() * 1000)
    const recording: Recording = {
      key,
      session,
      dogId,
      stream,
      startedAtUs,
      sensor: new Sensor(key),
      sender: new Sender({ ...connection, key, stream, startedAtUs }),
      viewer: new Viewer({ ...connection, window, marked: () => this.#allowFinish(recording) }),
      plannedTotal: this.#isEnding ? FEWEST_SAMPLES : plannedSamples(key),
      taken: 0,
      hasStopped: false,
    }
    return recording
  }

  /**
   * With an id of its own, again and again until it is open, whatever became of the answers.
   * @throws {Error} when the server refuses it: trying again would not help
   */
  async #openSession(id: string): Promise<void> {
    const { port, host, cookie, dogId } = this.#options
    const body = { id, dogId, sensor: 'simulated harness', mount: 'x=cranial,y=left,z=dorsal' }
    for (const backOff = new BackOff(); ; await backOff.wait()) {
      const answer = await call({ method: 'POST', port, path: '/api/sessions', host, cookie, body }).catch(
        (error: NodeJS.ErrnoException) => error,
      )
      // A broken line: once more.
      if (answer instanceof Error) continue
      if (answer.status === 201 || answer.status === 200) return
      if (answer.status < 500 && answer.status !== 429) {
        throw new Error(`session ${id} was refused with ${answer.status}: ${answer.text}`)
      }
    }
  }

  #allowFinish({ hasStopped, viewer, sender }: Recording): void {
    if (hasStopped && viewer.unconfirmedMarks === 0) sender.allowFinish()
  }
}

function accountOf(recording: Recording): RecordingAccount {
  const { key, session, dogId, stream, startedAtUs, taken, sender, viewer } = recording
  return {
    ...{ key, session, dogId, stream, startedAtUs },
    total: taken,
    acknowledged: sender.acknowledged,
    finishedSamples: sender.finishedSamples,
    marks: [...sender.confirmedMarks, ...viewer.confirmedMarks],
    unconfirmedMarks: sender.unconfirmedMarks + viewer.unconfirmedMarks,
    connections: sender.connections,
    sentTwice: sender.sentTwice,
    viewerSawEnd: viewer.sawEnd,
  }
}
