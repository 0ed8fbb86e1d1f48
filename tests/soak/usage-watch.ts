import { folderBytes } from './folder-size.ts'
import { processUsage } from './process-files.ts'
import type { UsageSample } from './result.ts'
import type { ServerLives } from './server-lives.ts'

const EVERY_MS = 2000

/** Looks at the server and its data folder every two seconds. */
export class UsageWatch {
  readonly samples: UsageSample[] = []
  readonly #server: ServerLives
  readonly #dataFolder: string
  #timer: NodeJS.Timeout | undefined

  constructor(server: ServerLives, dataFolder: string) {
    this.#server = server
    this.#dataFolder = dataFolder
  }

  start(): void {
    this.#timer = setInterval(() => this.#look(), EVERY_MS)
  }

  stop(): void {
    clearInterval(this.#timer)
  }

  #look(): void {
    const { pid, lives, heap } = this.#server
    const usage = pid === null ? null : processUsage(pid)
    if (!usage) return
    const dataMb = folderBytes(this.#dataFolder) / 2 ** 20
    this.samples.push({ atMs: Date.now(), life: lives.length - 1, ...usage, heap, dataMb })
  }
}
