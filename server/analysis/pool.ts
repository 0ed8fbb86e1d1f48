import { availableParallelism } from 'node:os'
import type { Worker } from 'node:worker_threads'
import { ServerError } from '../errors.ts'
import type { AnalysisJob, JobResult, WorkerReply } from './jobs.ts'
import { TraceRefusedError } from './jobs.ts'
import { startThread } from './thread.ts'

/** More waiting jobs than this are refused. */
const MAX_WAITING = 200

export interface PoolLimits {
  readonly analysisMs: number
  readonly analysisHeapMb: number
}

interface Task {
  readonly job: AnalysisJob
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
  readonly #waiting: Task[] = []
  #closed = false

  /** One core stays free for the event loop. */
  constructor(limits: PoolLimits, size = Math.max(1, Math.min(4, availableParallelism() - 1))) {
    this.#limits = limits
    this.#size = size
  }

  /**
   * @throws {TraceRefusedError} when the trace cannot be read or analysed
   * @throws {ServerError} when a limit was reached, or the pool is full or closed
   */
  run<Job extends AnalysisJob>(job: Job): Promise<JobResult<Job>> {
    if (this.#closed || this.#waiting.length >= MAX_WAITING) {
      return Promise.reject(new ServerError('ANALYSIS_BUSY'))
    }
    return new Promise((resolve, reject) => {
      this.#waiting.push({ job, resolve, reject })
      this.#startNext()
    })
  }

  async close(): Promise<void> {
    this.#closed = true
    for (const task of this.#waiting.splice(0)) task.reject(new ServerError('ANALYSIS_BUSY'))
    await Promise.all([...this.#idle, ...this.#busy.keys()].map((worker) => worker.terminate()))
  }

  #startNext(): void {
    if (this.#closed || this.#waiting.length === 0) return
    if (this.#idle.length === 0 && this.#busy.size >= this.#size) return
    this.#start(this.#idle.pop() ?? this.#newWorker(), this.#waiting.shift()!)
  }

  #start(worker: Worker, task: Task): void {
    this.#busy.set(worker, task)
    const timer = setTimeout(() => {
      this.#lose(worker, new ServerError('ANALYSIS_TOO_LONG', { seconds: this.#limits.analysisMs / 1000 }))
    }, this.#limits.analysisMs)
    const free = () => {
      clearTimeout(timer)
      worker.removeAllListeners()
      this.#busy.delete(worker)
    }
    worker.once('message', (reply: WorkerReply) => {
      free()
      // An idle worker must not keep a finished program alive.
      worker.unref()
      worker.on('error', () => this.#idle.splice(this.#idle.indexOf(worker), 1))
      this.#idle.push(worker)
      this.#settle(task, reply)
      this.#startNext()
    })
    worker.once('error', (error: Error & { code?: string }) => {
      free()
      const tooBig = error.code === 'ERR_WORKER_OUT_OF_MEMORY'
      task.reject(tooBig ? new ServerError('ANALYSIS_TOO_BIG') : error)
      this.#startNext()
    })
    worker.once('exit', () => {
      free()
      task.reject(new ServerError('ANALYSIS_BUSY'))
      this.#startNext()
    })
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

  #lose(worker: Worker, error: ServerError): void {
    const task = this.#busy.get(worker)
    worker.removeAllListeners()
    this.#busy.delete(worker)
    void worker.terminate()
    task?.reject(error)
    this.#startNext()
  }

  #newWorker(): Worker {
    return startThread('./worker', import.meta.url, {
      resourceLimits: { maxOldGenerationSizeMb: this.#limits.analysisHeapMb },
    })
  }
}
