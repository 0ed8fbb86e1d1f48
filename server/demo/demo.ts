import { randomUUID } from 'node:crypto'
import { setTimeout as sleep } from 'node:timers/promises'
import type { FastifyBaseLogger } from 'fastify'
import type { NewDiaryEntry } from '#protocol/diary'
import type { Dog, NewSession, SessionSummary } from '#protocol/resources'
import { DemoApi, DemoRequestError } from './demo-api.ts'
import { HarnessRefusedError, playHarness } from './harness.ts'
import { juniperPlans, LIVE_EXERCISE_ID, recordedSetUp } from './juniper-plan.ts'
import { juniperDiary } from './juniper-words.ts'
import { HARNESS_MOUNT, programmeTraces } from './programme-traces.ts'
import type { ProgrammeTrace } from './programme-traces.ts'
import { Simulator } from './simulator.ts'
import { tell } from '../log/tell.ts'

const PAUSE_MS = 30_000
const SENSOR = 'simulated harness'
/** Ids of the demo's own recordings begin so. */
const HARNESS_SESSION = 'demo-harness-'

/** What lets the demo in while it runs: a cookie of its own. */
export interface DemoPass {
  open(): Promise<string>
  close(): Promise<void>
}

const NO_PASS: DemoPass = { open: async () => '', close: async () => undefined }

/**
 * The demo: Juniper, an invented dog, with sixteen weeks of sessions and a simulated harness that
 * records one session after the other. It uses the public API of the running server only, and
 * ends when the dog is deleted.
 */
export class Demo {
  readonly #baseUrl: string
  readonly #log: FastifyBaseLogger
  readonly #pass: DemoPass
  #api: DemoApi
  #simulator: Simulator | null = null
  #running: Promise<void> | null = null
  #past: Promise<void> = Promise.resolve()
  #stop = new AbortController()
  #dogId = ''

  constructor(baseUrl: string, log: FastifyBaseLogger, pass: DemoPass = NO_PASS) {
    this.#baseUrl = baseUrl
    this.#log = log
    this.#pass = pass
    this.#api = new DemoApi(baseUrl, '')
  }

  /** The demo dog, with everything under way; a demo that runs already goes on. */
  async start(): Promise<Dog> {
    if (!this.#running) await this.#enter()
    const dogs = await this.#api.dogs()
    const dog = dogs.find((candidate) => candidate.demo) ?? (await this.#api.addDog(JUNIPER_RECORD))
    if (this.#running && this.#dogId === dog.id) return dog
    const wasRunning = this.#running !== null
    await this.stop()
    if (wasRunning) await this.#enter()
    this.#dogId = dog.id
    this.#stop = new AbortController()
    this.#simulator = new Simulator()
    this.#running = this.#run(dog, this.#simulator, this.#stop.signal)
      .catch((error: unknown) => this.#ended(error))
      .finally(() => {
        this.#running = null
        return this.#pass.close()
      })
    return dog
  }

  async #enter(): Promise<void> {
    this.#api = new DemoApi(this.#baseUrl, await this.#pass.open())
  }

  async stop(): Promise<void> {
    this.#stop.abort()
    await this.#simulator?.close()
    this.#simulator = null
    await this.#running
  }

  /** Resolves once all sessions of the sixteen weeks are there, with what people said of them. */
  pastIsThere(): Promise<void> {
    return this.#past
  }

  async #run(dog: Dog, simulator: Simulator, signal: AbortSignal): Promise<void> {
    const planned = this.#setPlans(dog)
    this.#past = planned.then(() => this.#uploadProgramme(dog, simulator, signal))
    await Promise.all([this.#past, planned.then(() => this.#recordForever(dog, simulator, signal))])
  }

  /** Diary and plan, the second version last: once it is there, or what a person made of it, nothing is added. */
  async #setPlans(dog: Dog): Promise<void> {
    const endDateUs = endDateOf(dog)
    const [first, second] = juniperPlans(endDateUs)
    try {
      await this.#api.setPlan(dog.id, first, 0)
    } catch (error) {
      if (codeOf(error) !== 'PLAN_CHANGED') throw error
    }
    if ((await this.#api.plan(dog.id)).version > 1) return
    const written = new Set((await this.#api.diary(dog.id)).map(diaryKey))
    for (const entry of juniperDiary(endDateUs)) {
      if (!written.has(diaryKey(entry))) await this.#api.addDiaryEntry(dog.id, entry)
    }
    await this.#api.setPlan(dog.id, second, 1)
  }

  async #uploadProgramme(dog: Dog, simulator: Simulator, signal: AbortSignal): Promise<void> {
    const endDateUs = endDateOf(dog)
    const stored = new Map((await this.#api.sessions(dog.id)).map((session) => [session.fileName, session]))
    for (const [index, trace] of programmeTraces(endDateUs).entries()) {
      if (signal.aborted) return
      const known = stored.get(trace.file)
      try {
        const session = known ?? (await this.#upload(dog, simulator, endDateUs, index, trace))
        // The newest is left for whoever looks around: nobody has answered for it yet.
        if (session.version === 1) await this.#annotate(session, trace, index > 0)
      } catch (error) {
        if (codeOf(error) !== 'TRACE_DUPLICATE') throw error
      }
    }
  }

  async #upload(
    dog: Dog,
    simulator: Simulator,
    endDateUs: number,
    index: number,
    { file, fields }: ProgrammeTrace,
  ): Promise<SessionSummary> {
    const csv = await simulator.programmeCsv(endDateUs, index)
    return this.#api.uploadTrace(dog.id, file, csv, fields)
  }

  /**
   * What people said of a session. The change of the session itself comes last and raises its version: a demo
   * that was cut short takes up here, and what a person has changed since is left alone.
   */
  async #annotate(
    { id, version, checkIn }: SessionSummary,
    trace: ProgrammeTrace,
    answered: boolean,
  ): Promise<void> {
    for (const [noteId, note] of trace.notes) {
      await this.#api.addRepetitionNote(id, noteId, note).catch(unlessChanged)
    }
    if (answered && checkIn === null) await this.#api.checkIn(id, trace.checkIn)
    await this.#api.changeSession(id, trace.words, version).catch(unlessChanged)
  }

  async #recordForever(dog: Dog, simulator: Simulator, signal: AbortSignal): Promise<void> {
    for (let seed = 1; !signal.aborted; seed++) {
      const trace = await simulator.liveTrace(seed)
      const session = await this.#api.addSession({
        id: `${HARNESS_SESSION}${randomUUID()}`,
        dogId: dog.id,
        sensor: SENSOR,
        mount: HARNESS_MOUNT,
        ...(await this.#planned(dog)),
      })
      await playHarness(this.#api, session.id, trace, signal).catch(unlessEnded)
      await this.#keepOnly(dog, session.id)
      await sleep(PAUSE_MS, undefined, { signal })
    }
  }

  /** The exercise of the newest plan, as long as it has one for the harness. */
  async #planned(dog: Dog): Promise<Pick<NewSession, 'setUp' | 'planned'>> {
    const { version, exercises } = await this.#api.plan(dog.id)
    const exercise = exercises.find(({ id }) => id === LIVE_EXERCISE_ID)
    if (!exercise) return { setUp: recordedSetUp('stand on foam pad') }
    return { setUp: exercise.setUp, planned: { planVersion: version, exerciseId: exercise.id } }
  }

  /** Of the sessions the demo's harness recorded only the newest stays; what a person recorded is theirs. */
  async #keepOnly(dog: Dog, sessionId: string): Promise<void> {
    for (const { id } of await this.#api.sessions(dog.id)) {
      if (id.startsWith(HARNESS_SESSION) && id !== sessionId) await this.#api.deleteSession(id)
    }
  }

  async #ended(error: unknown): Promise<void> {
    if (this.#stop.signal.aborted) return
    this.#stop.abort()
    await this.#simulator?.close()
    const left = (await this.#api.dogs().catch(() => [])).some((dog) => dog.id === this.#dogId)
    // Without its dog the demo is over; anything else is a failure worth a line in the log.
    if (left) tell(this.#log, 'demo.stopped', { err: error })
  }
}

function codeOf(error: unknown): string | null {
  return error instanceof DemoRequestError ? error.problem.code : null
}

/** The programme is dated from the dog's own beginning: started again on another day it finds its files there. */
function endDateOf(dog: Dog): number {
  return Date.parse(dog.createdAt) * 1000
}

function diaryKey({ kind, fromDate, title }: Pick<NewDiaryEntry, 'kind' | 'fromDate' | 'title'>): string {
  return `${kind} ${fromDate} ${title}`
}

/** Somebody was faster: what is there stays. */
function unlessChanged(error: unknown): void {
  if (!(error instanceof DemoRequestError) || error.problem.status !== 412) throw error
}

/** A recording that somebody finished or deleted is over; the next one comes. */
function unlessEnded(error: unknown): void {
  const code = error instanceof HarnessRefusedError ? error.code : null
  if (code !== 'SESSION_FINISHED' && code !== 'SESSION_DELETED') throw error
}

const JUNIPER_RECORD = {
  name: 'Juniper',
  breed: 'Lurcher',
  weightKg: 27,
  withersCm: 68,
  notes:
    'Invented for the demo: ten years old, spinal surgery last winter, balance exercises at home ' +
    'with therapist Rowan Vale.',
  demo: true,
}
