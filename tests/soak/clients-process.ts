import { fork } from 'node:child_process'
import type { ChildProcess } from 'node:child_process'
import { once } from 'node:events'
import { fileURLToPath } from 'node:url'
import type { Order, Progress, RecordingAccount, Report } from './client-messages.ts'

const script = fileURLToPath(new URL('./clients.ts', import.meta.url))

export interface ClientsListener {
  progress(progress: Progress): void
  violation(text: string): void
}

/** The process with the senders and viewers. */
export class ClientsProcess {
  readonly #child: ChildProcess
  readonly #waiting = new Set<(acknowledged: number) => void>()
  #acknowledged = 0
  readonly #ended: Promise<readonly RecordingAccount[]>

  constructor(listener: ClientsListener) {
    this.#child = fork(script, { execArgv: ['--conditions=source', '--import', 'tsx'] })
    this.#ended = new Promise((resolve, reject) => {
      this.#child.on('message', (report: Report) => {
        if (report.kind === 'progress') {
          this.#acknowledged = report.progress.acknowledged
          for (const check of this.#waiting) check(this.#acknowledged)
          listener.progress(report.progress)
        }
        if (report.kind === 'violation') listener.violation(report.text)
        if (report.kind === 'ended') resolve(report.recordings)
      })
      this.#child.once('exit', (code, signal) => {
        reject(new Error(`the senders ended with ${code ?? signal} before their account`))
      })
    })
    // Who waits for the end is told; before that nobody does.
    this.#ended.catch(() => undefined)
  }

  begin(order: Omit<Order & { kind: 'begin' }, 'kind'>): void {
    this.#tell({ kind: 'begin', ...order })
  }

  /** Lets every recording come to its end; gives what the senders know of them. */
  end(): Promise<readonly RecordingAccount[]> {
    this.#tell({ kind: 'end' })
    return this.#ended
  }

  /** Resolves when more is acknowledged than is now. */
  acknowledgedMore(): Promise<void> {
    const before = this.#acknowledged
    return new Promise((resolve) => {
      const check = (acknowledged: number) => {
        if (acknowledged <= before) return
        this.#waiting.delete(check)
        resolve()
      }
      this.#waiting.add(check)
    })
  }

  /** Rejects when the process ends before its account. */
  async failure(): Promise<never> {
    await this.#ended
    return new Promise(() => undefined)
  }

  async kill(): Promise<void> {
    if (this.#child.exitCode !== null || this.#child.signalCode !== null) return
    const gone = once(this.#child, 'exit')
    this.#child.kill('SIGKILL')
    await gone
  }

  #tell(order: Order): void {
    this.#child.send(order)
  }
}
