import { mkdir, mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Worker } from 'node:worker_threads'
import { startThread } from '../analysis/thread.ts'
import type { Config } from '../config.ts'
import { ServerError } from '../errors.ts'
import { IdTakenError } from '../store/archives.ts'
import type { Author } from '../store/changes.ts'
import { IMPORTS_FOLDER } from '../store/imports-folder.ts'
import type { Store } from '../store/store.ts'
import type { FromImportThread } from './import-messages.ts'
import type { Staged } from './stage.ts'
import { ARCHIVE_LIMITS } from './zip-entries.ts'

/**
 * Brings dogs back from their archives, one archive at a time: read and checked in a thread of its own into a
 * store of its own, then taken over at once. Whatever fails leaves nothing.
 */
export class Imports {
  readonly #store: Store
  readonly #config: Config
  readonly #running = new Set<Worker>()
  #turn: Promise<unknown> = Promise.resolve()
  #closed = false

  constructor(store: Store, config: Config) {
    this.#store = store
    this.#config = config
  }

  /**
   * A folder for one import, gone when `work` is through. It lies with the data, so that it is removed at
   * the next start when this process dies.
   */
  async inFolder<T>(work: (folder: string) => Promise<T>): Promise<T> {
    const { dataDir } = this.#config
    const parent = dataDir === ':memory:' ? tmpdir() : join(dataDir, IMPORTS_FOLDER)
    await mkdir(parent, { recursive: true })
    const folder = await mkdtemp(join(parent, 'swaybook-import-'))
    try {
      return await work(folder)
    } finally {
      await rm(folder, { recursive: true, force: true })
    }
  }

  /**
   * Takes over the dog in the archive at `zipPath`; `folder` is empty but for it. Who imports it owns it.
   * @throws {ServerError} when the archive is refused, a limit was reached, or the dog is here already
   */
  run(zipPath: string, folder: string, by: Author): Promise<Staged> {
    const done = this.#turn.then(() => this.#import(zipPath, folder, by))
    this.#turn = done.catch(() => undefined)
    return done
  }

  async close(): Promise<void> {
    this.#closed = true
    await Promise.all([...this.#running].map((worker) => worker.terminate()))
    await this.#turn
  }

  async #import(zipPath: string, folder: string, by: Author): Promise<Staged> {
    if (this.#closed) throw new ServerError('IMPORT_STOPPED')
    const stagingDir = join(folder, 'staging')
    await mkdir(stagingDir)
    const staged = await this.#staged(zipPath, stagingDir)
    try {
      const { from, sessions } = staged
      await this.#store.archives.adopt(stagingDir, { by, detail: { ...from, sessions } })
    } catch (cause) {
      if (!(cause instanceof IdTakenError)) throw cause
      if (cause.what === 'dog') throw new ServerError('DOG_EXISTS', { dogId: staged.dogId }, { cause })
      throw new ServerError('IMPORT_ID_TAKEN', { reason: cause.message }, { cause })
    }
    return staged
  }

  #staged(zipPath: string, stagingDir: string): Promise<Staged> {
    const { importMs, analysisHeapMb } = this.#config.limits
    const worker = startThread('./import-thread', import.meta.url, {
      resourceLimits: { maxOldGenerationSizeMb: analysisHeapMb },
    })
    this.#running.add(worker)
    const ended = new Promise<void>((resolve) => worker.once('exit', () => resolve()))
    let timer: NodeJS.Timeout | undefined
    const outcome = new Promise<Staged>((resolve, reject) => {
      timer = setTimeout(() => {
        reject(new ServerError('IMPORT_TOO_LONG', { minutes: Math.round(importMs / 60_000) }))
      }, importMs)
      worker.on('message', (message: FromImportThread) => {
        if (message.kind === 'staged') resolve(message.staged)
        else if (message.kind === 'failed') reject(errorOf(message.failure))
        else this.#requireNew(message.dogId).catch(reject)
      })
      worker.on('error', (error: Error & { code?: string }) => {
        reject(error.code === 'ERR_WORKER_OUT_OF_MEMORY' ? new ServerError('IMPORT_TOO_BIG') : error)
      })
      worker.on('exit', () => reject(new ServerError('IMPORT_STOPPED')))
      worker.postMessage({ zipPath, stagingDir, limits: ARCHIVE_LIMITS })
    })
    return outcome.finally(async () => {
      clearTimeout(timer)
      // Before the folder goes: the thread has files open in it.
      await worker.terminate()
      await ended
      this.#running.delete(worker)
    })
  }

  async #requireNew(dogId: string): Promise<void> {
    if (await this.#store.records.dog(dogId)) throw new ServerError('DOG_EXISTS', { dogId })
  }
}

function errorOf({
  refused,
  message,
  stack,
}: Extract<FromImportThread, { kind: 'failed' }>['failure']): Error {
  if (!refused) return Object.assign(new Error(message), { stack })
  return new ServerError('IMPORT_REFUSED', { reason: message }, { extras: refused })
}
