import { availableParallelism } from 'node:os'
import type { Worker } from 'node:worker_threads'
import { ServerError } from '../errors.ts'
import { FairQueue } from './fair-queue.ts'
import type { AnalysisJob, JobResult, WorkerReply } from './jobs.ts'
import { PoolClosedError, TraceRefusedError } from './jobs.ts'
import { startThread } from './thread.ts'

/** With more waiting jobs than this uploads are refused. */
const MAX_WAITING = 200
/** With more waiting jobs than this of one person, theirs are. */
const MAX_WAITING_EACH = 100
/** For whom work is done that nobody waits for alone. */
const EVERYBODY = ''

export interface PoolLimits {
  readonly analysisMs: number
  readonly analysisHeapMb: number
}

interface Task {
  readonly job: AnalysisJob
  readonly who: string
  readonly resolve: (result: never) => void
  readonly reject: (error: unknown) => void
}

/**
 * Worker threads that read and analyse traces, so that a large file neither stops the event loop
 * nor takes the server down: each job has a time and a memory limit.
 */
export class AnalysisPool {
  readonly #limits: PoolLimits
  readonly #size: number
  readonly #idle: Worker[] = []
  readonly #busy = new Map<Worker, Task>()
  readonly #waiting = new FairQueue<Task>()
  #closed = false

  /** One core stays free for the event loop. */
  constructor(limits: PoolLimits, size = Math.max(1, Math.min(4, availableParallelism() - 1))) {
    this.#limits = limits
    this.#size = size
  }

  /**
   * @param who it is for: several take turns
   * @throws {TraceRefusedError} when the trace cannot be read or analysed
   * @throws {ServerError} when a limit was reached, or too many traces are waiting
   * @throws {PoolClosedError} when the server stops
   */
  run<Job extends AnalysisJob>(job: Job, who = EVERYBODY): Promise<JobResult<Job>> {
    if (this.#closed) return Promise.reject(new PoolClosedError())
    const full = this.#waiting.size >= MAX_WAITING || this.#waiting.sizeOf(who) >= MAX_WAITING_EACH
    // Uploads can be sent again; a recording that was finished must be analysed.
    if (job.kind === 'file' && full) return Promise.reject(new ServerError('ANALYSIS_BUSY'))
    return new Promise((resolve, reject) => {
      this.#waiting.add(who, { job, who, resolve, reject })
      this.#startNext()
    })
  }

  /** How much there is to do. */
  get load(): { running: number; waiting: number } {
    return { running: this.#busy.size, waiting: this.#waiting.size }
  }

  async close(): Promise<void> {
    this.#closed = true
    for (const task of this.#waiting.drain()) task.reject(new PoolClosedError())
    await Promise.all([...this.#idle, ...this.#busy.keys()].map((worker) => worker.terminate()))
  }

  #startNext(): void {
    if (this.#closed || this.#busy.size >= this.#size) return
    const task = this.#waiting.next((task) => this.#mayStart(task))
    if (task) this.#start(this.#idle.pop() ?? this.#newWorker(), task)
  }

  /** Uploads of one person leave a worker to everybody else, where there is more than one. */
  #mayStart({ job, who }: Task): boolean {
    if (job.kind !== 'file' || this.#size === 1) return true
    const own = [...this.#busy.values()].filter((task) => task.job.kind === 'file' && task.who === who)
    return own.length < this.#size - 1
  }

  #start(worker: Worker, task: Task): void {
    this.#busy.set(worker, task)
    const timer = setTimeout(() => {
      stopListening()
      void worker.terminate()
      end(new ServerError('ANALYSIS_TOO_LONG', { seconds: this.#limits.analysisMs / 1000 }))
    }, this.#limits.analysisMs)
    const replied = (reply: WorkerReply) => {
      stopListening()
      // An idle worker must not keep a finished program alive.
      worker.unref()
      this.#idle.push(worker)
      this.#busy.delete(worker)
      this.#settle(task, reply)
      this.#startNext()
    }
    const failed = (error: Error & { code?: string }) => {
      stopListening()
      end(error.code === 'ERR_WORKER_OUT_OF_MEMORY' ? new ServerError('ANALYSIS_TOO_BIG') : error)
    }
    const ended = () => {
      stopListening()
      end(new PoolClosedError())
    }
    const end = (error: Error) => {
      this.#busy.delete(worker)
      task.reject(error)
      this.#startNext()
    }
    // Not removeAllListeners: the worker's own bookkeeping listens on it too.
    const stopListening = () => {
      clearTimeout(timer)
      worker.off('message', replied).off('error', failed).off('exit', ended)
    }
    worker.on('message', replied).on('error', failed).on('exit', ended)
    worker.ref()
    worker.postMessage(task.job)
  }

  #settle(task: Task, reply: WorkerReply): void {
    if (reply.ok) return task.resolve(reply.result as never)
    const { error } = reply
    // RangeError is how the analysis says that a trace is too short or too slow to be measured.
    const refused = error.name === 'TraceError' || error.name === 'RangeError'
    const crash = Object.assign(new Error(error.message), { name: error.name, stack: error.stack })
    task.reject(refused ? new TraceRefusedError(error) : crash)
  }

  #newWorker(): Worker {
    const worker = startThread('./worker', import.meta.url, {
      resourceLimits: { maxOldGenerationSizeMb: this.#limits.analysisHeapMb },
    })
    // One that ends while idle is not used again; a busy one tells its task.
    worker.on('error', () => undefined)
    worker.on('exit', () => {
      const at = this.#idle.indexOf(worker)
      if (at >= 0) this.#idle.splice(at, 1)
    })
    return worker
  }
}
