import { randomUUID } from 'node:crypto'
import { setTimeout as sleep } from 'node:timers/promises'
import type { FastifyBaseLogger } from 'fastify'
import type { Dog, NewSession } from '#protocol/resources'
import { DemoApi, DemoRequestError } from './demo-api.ts'
import { HarnessRefusedError, playHarness } from './harness.ts'
import { juniperPlan, LIVE_EXERCISE_ID } from './juniper-plan.ts'
import { HARNESS_MOUNT, programmeTraces } from './programme-traces.ts'
import { Simulator } from './simulator.ts'

const PAUSE_MS = 30_000
const SENSOR = 'simulated harness'
/** Ids of the demo's own recordings begin so. */
const HARNESS_SESSION = 'demo-harness-'

/**
 * The demo: Juniper, an invented dog, with sixteen weeks of sessions and a simulated harness that
 * records one session after the other. It uses the public API of the running server only, and
 * ends when the dog is deleted.
 */
export class Demo {
  readonly #api: DemoApi
  readonly #log: FastifyBaseLogger
  #simulator: Simulator | null = null
  #running: Promise<void> | null = null
  #stop = new AbortController()
  #dogId = ''

  constructor(baseUrl: string, log: FastifyBaseLogger) {
    this.#api = new DemoApi(baseUrl)
    this.#log = log
  }

  /** The demo dog, with everything under way; a demo that runs already goes on. */
  async start(): Promise<Dog> {
    const dogs = await this.#api.dogs()
    const dog = dogs.find((candidate) => candidate.demo) ?? (await this.#api.addDog(JUNIPER_RECORD))
    if (this.#running && this.#dogId === dog.id) return dog
    await this.stop()
    this.#dogId = dog.id
    this.#stop = new AbortController()
    this.#simulator = new Simulator()
    this.#running = this.#run(dog, this.#stop.signal)
      .catch((error: unknown) => this.#ended(error))
      .finally(() => (this.#running = null))
    return dog
  }

  async stop(): Promise<void> {
    this.#stop.abort()
    await this.#simulator?.close()
    this.#simulator = null
    await this.#running
  }

  async #run(dog: Dog, signal: AbortSignal): Promise<void> {
    const simulator = this.#simulator!
    await this.#setPlan(dog)
    await Promise.all([
      this.#uploadProgramme(dog, simulator, signal),
      this.#recordForever(dog, simulator, signal),
    ])
  }

  async #setPlan(dog: Dog): Promise<void> {
    try {
      await this.#api.setFirstPlan(dog.id, juniperPlan(dog.createdAt.slice(0, 10)))
    } catch (error) {
      // A demo that was started before: its plan, or what a person made of it, stays.
      if (codeOf(error) !== 'PLAN_CHANGED') throw error
    }
  }

  async #uploadProgramme(dog: Dog, simulator: Simulator, signal: AbortSignal): Promise<void> {
    // Dated from the dog's own beginning: a demo started again on another day finds its files there.
    const endDateUs = Date.parse(dog.createdAt) * 1000
    const stored = new Set((await this.#api.sessions(dog.id)).map((session) => session.fileName))
    for (const [index, { file, fields, checkIn }] of programmeTraces(endDateUs).entries()) {
      if (signal.aborted) return
      if (stored.has(file)) continue
      const csv = await simulator.programmeCsv(endDateUs, index)
      try {
        const { id } = await this.#api.uploadTrace(dog.id, file, csv, fields)
        // The newest is left for whoever looks around: nobody has answered for it yet.
        if (index > 0) await this.#api.checkIn(id, checkIn)
      } catch (error) {
        if (codeOf(error) !== 'TRACE_DUPLICATE') throw error
      }
    }
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
      await playHarness(this.#api.liveUrl, session.id, trace, signal).catch(unlessEnded)
      await this.#keepOnly(dog, session.id)
      await sleep(PAUSE_MS, undefined, { signal })
    }
  }

  /** The exercise of the newest plan, as long as it has one for the harness. */
  async #planned(dog: Dog): Promise<Pick<NewSession, 'setUp' | 'planned'>> {
    const { version, exercises } = await this.#api.plan(dog.id)
    const exercise = exercises.find(({ id }) => id === LIVE_EXERCISE_ID)
    if (!exercise) return { setUp: { exercise: 'stand on foam pad', surface: 'foam pad' } }
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
    if (left) this.#log.error({ err: error }, 'the demo stopped')
  }
}

function codeOf(error: unknown): string | null {
  return error instanceof DemoRequestError ? error.problem.code : null
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
