import { spawn } from 'node:child_process'
import type { ChildProcess } from 'node:child_process'
import { once } from 'node:events'
import { existsSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { peakResidentMb } from './process-files.ts'

const root = fileURLToPath(new URL('../..', import.meta.url))
const entry = fileURLToPath(new URL('../../dist/server/main.js', import.meta.url))
const tellUsage = new URL('./tell-usage.mjs', import.meta.url).href

/** Longest start, ms: a server that does not come back is a finding, not a reason to wait for ever. */
const START_MS = 60_000

/** Of the main thread, as the server itself tells it. */
export interface HeapUsage {
  readonly heapUsed: number
  readonly heapTotal: number
  readonly external: number
  readonly arrayBuffers: number
  readonly loopMs: { readonly p50: number; readonly p99: number; readonly max: number }
}

export type CollectedHeap = Pick<HeapUsage, 'heapUsed' | 'arrayBuffers'>

export interface Life {
  readonly pid: number
  readonly startedAtMs: number
  /** When it printed its address; null when it was killed before. */
  readyAtMs: number | null
  endedAtMs: number | null
  end: 'killed' | 'stopped' | 'crashed' | null
  peakResidentMb: number | null
}

export interface ServerLivesOptions {
  readonly dataFolder: string
  readonly env: Readonly<Record<string, string>>
  /** Loaded before the server, e.g. to break it on purpose. */
  readonly preload?: string
  violation(text: string): void
}

/** The built server on one port, one process after the other. */
export class ServerLives {
  readonly lives: Life[] = []
  readonly #options: ServerLivesOptions
  #child: ChildProcess | null = null
  #port = 0
  #errors = ''
  #heap: HeapUsage | null = null
  #tellCollected: (heap: CollectedHeap) => void = () => undefined
  /** Its end is wanted. */
  #isEnding = false

  constructor(options: ServerLivesOptions) {
    this.#options = options
  }

  get port(): number {
    return this.#port
  }

  get host(): string {
    return `127.0.0.1:${this.#port}`
  }

  get pid(): number | null {
    return this.#child?.pid ?? null
  }

  /** The newest word of the process that runs now; null before its first. */
  get heap(): HeapUsage | null {
    return this.#heap
  }

  /** What all of them wrote to standard error. */
  get log(): string {
    return this.#errors
  }

  /** Starts it and waits until it listens. @throws {Error} when it does not, or was not built */
  async start(): Promise<void> {
    if (!existsSync(entry))
      throw new Error('dist/server/main.js is missing: npm test and npm run soak build it')
    await this.#ready(this.#spawn())
  }

  /** Starts it, kills it `afterMs` later, whatever it is doing then, and starts it again. */
  async startTwice(afterMs: number): Promise<void> {
    const ready = this.#ready(this.#spawn()).catch(() => undefined)
    await Promise.race([ready, new Promise((resolve) => setTimeout(resolve, afterMs))])
    await this.kill()
    await ready
    await this.start()
  }

  /** What is left after the heap was collected in full. */
  collected(): Promise<CollectedHeap> {
    return new Promise((resolve) => {
      this.#tellCollected = resolve
      this.#child?.send('collect')
    })
  }

  /** kill -9, and waits until it is gone. */
  async kill(): Promise<void> {
    await this.#end('SIGKILL', 'killed')
  }

  /** Asks it to stop; gives its exit code. */
  async stop(): Promise<number | null> {
    return this.#end('SIGTERM', 'stopped')
  }

  #spawn(): ChildProcess {
    const { dataFolder, env, preload } = this.#options
    const imports = [tellUsage, ...(preload === undefined ? [] : [preload])]
    const args = [...imports.flatMap((url) => ['--import', url]), entry]
    const child = spawn(process.execPath, args, {
      cwd: root,
      env: { ...process.env, LOG_LEVEL: 'warn', ...env, PORT: String(this.#port), SWAYBOOK_DATA: dataFolder },
      stdio: ['ignore', 'pipe', 'pipe', 'ipc'],
      // Ctrl+C is for the soak; the server ends when that says so.
      detached: true,
    })
    const life: Life = {
      pid: child.pid!,
      startedAtMs: Date.now(),
      ...{ readyAtMs: null, endedAtMs: null, end: null, peakResidentMb: null },
    }
    this.lives.push(life)
    this.#child = child
    this.#heap = null
    this.#isEnding = false
    child.stderr!.on('data', (text: Buffer) => (this.#errors += text.toString()))
    child.on('message', (told: HeapUsage | { collected: CollectedHeap }) => {
      if ('collected' in told) this.#tellCollected(told.collected)
      else this.#heap = told
    })
    child.once('exit', (code, signal) => {
      life.endedAtMs = Date.now()
      this.#child = null
      if (this.#isEnding) return
      life.end = 'crashed'
      this.#options.violation(
        `the server ended by itself with ${code ?? signal}: ${this.#errors.slice(-2000)}`,
      )
    })
    return child
  }

  #ready(child: ChildProcess): Promise<void> {
    const life = this.lives.at(-1)!
    return new Promise((resolve, reject) => {
      const late = setTimeout(() => {
        reject(
          new Error(`the server did not start within ${START_MS / 1000} s: ${this.#errors.slice(-2000)}`),
        )
      }, START_MS)
      let text = ''
      child.stdout!.on('data', (piece: Buffer) => {
        text += piece.toString()
        const address = /http:\/\/\S+/.exec(text)
        if (!address || life.readyAtMs !== null) return
        clearTimeout(late)
        life.readyAtMs = Date.now()
        this.#port = Number(new URL(address[0]).port)
        resolve()
      })
      child.once('exit', (code, signal) => {
        clearTimeout(late)
        reject(new Error(`the server ended with ${code ?? signal} before it listened`))
      })
    })
  }

  async #end(signal: 'SIGKILL' | 'SIGTERM', end: 'killed' | 'stopped'): Promise<number | null> {
    const child = this.#child
    const life = this.lives.at(-1)
    if (!child || !life) return null
    life.peakResidentMb = peakResidentMb(life.pid)
    life.end = end
    this.#isEnding = true
    const gone = once(child, 'exit')
    child.kill(signal)
    const [code] = (await gone) as [number | null]
    return code
  }
}
