import { spawn } from 'node:child_process'
import type { ChildProcess } from 'node:child_process'
import { existsSync } from 'node:fs'
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'

const root = fileURLToPath(new URL('../..', import.meta.url))
const entry = join(root, 'dist/server/main.js')

/** The built server as a process of its own, as `npm start` runs it. */
export interface RunningServer {
  readonly url: string
  readonly dataFolder: string
  readonly pid: number
  /** Everything it wrote to standard error so far. */
  stderr(): string
  /** Asks it to stop and waits for its exit code. */
  stop(): Promise<number | null>
  /** Ends it at once, as `kill -9` does, and waits until it is gone. */
  kill(): Promise<void>
}

export interface ServerOptions {
  readonly args?: readonly string[]
  /** Of node itself, e.g. `--cpu-prof`. */
  readonly nodeArgs?: readonly string[]
  readonly env?: Readonly<Record<string, string>>
  readonly dataFolder?: string
  /** Any free one by default. */
  readonly port?: number
}

/** Starts the built server on a free port; a data folder of its own unless one is given. */
export async function startServer(options: ServerOptions = {}): Promise<RunningServer> {
  if (!existsSync(entry)) throw new Error('dist/server/main.js is missing: run the tests through npm test')
  const dataFolder = options.dataFolder ?? (await mkdtemp(join(tmpdir(), 'swaybook-test-')))
  const child = spawn(process.execPath, [...(options.nodeArgs ?? []), entry, ...(options.args ?? [])], {
    cwd: root,
    env: { ...process.env, ...options.env, PORT: String(options.port ?? 0), SWAYBOOK_DATA: dataFolder },
    stdio: ['ignore', 'pipe', 'pipe'],
  })
  let errors = ''
  child.stderr.on('data', (chunk: Buffer) => (errors += chunk.toString()))
  const url = await printedAddress(child, () => errors)
  return {
    url,
    dataFolder,
    pid: child.pid!,
    stderr: () => errors,
    async stop() {
      const ended = exitOf(child)
      child.kill('SIGTERM')
      const code = await ended
      if (options.dataFolder === undefined) await rm(dataFolder, { recursive: true, force: true })
      return code
    },
    async kill() {
      const ended = exitOf(child)
      child.kill('SIGKILL')
      await ended
    },
  }
}

function printedAddress(child: ChildProcess, errors: () => string): Promise<string> {
  return new Promise((resolve, reject) => {
    let text = ''
    child.stdout!.on('data', (chunk: Buffer) => {
      text += chunk.toString()
      const found = /http:\/\/\S+/.exec(text)
      if (found) resolve(found[0])
    })
    child.once('exit', (code) => reject(new Error(`the server ended with ${code}: ${errors()}`)))
  })
}

function exitOf(child: ChildProcess): Promise<number | null> {
  if (child.exitCode !== null || child.signalCode !== null) return Promise.resolve(child.exitCode)
  return new Promise((resolve) => child.once('exit', (code) => resolve(code)))
}
