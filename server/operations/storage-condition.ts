import { randomUUID } from 'node:crypto'
import { open, rm, statfs } from 'node:fs/promises'
import { join } from 'node:path'
import { diskFailureOf } from '../store/disk-failure.ts'

export type StorageTrouble = 'full' | 'read-only' | 'failing'

export interface StorageProblem {
  readonly trouble: StorageTrouble
  /** ISO time at which it was first seen. */
  readonly since: string
}

/** While nothing can be stored it is tried again this often, ms. */
const RETRY_MS = 2000
/** While all is well a question tries it this often at most, ms. */
const TRY_MS = 10_000
/** Tried while all is well: it must not wear the disk. */
const SMALL_BYTES = 4096
/** Tried before a disk that was full counts as well again: a few last pages are not enough to record. */
const ROOM_BYTES = 1024 * 1024

/**
 * Whether the data folder can be written to. Told of every write that failed; then it tries by itself until a
 * megabyte goes through again, so that nobody has to restart anything when there is room.
 */
export class StorageCondition {
  readonly #dataDir: string
  readonly #onChange: (problem: StorageProblem | null) => void
  #problem: StorageProblem | null = null
  #retry: NodeJS.Timeout | null = null
  #triedAtMs = -Infinity
  #trial: Promise<void> | null = null

  /** @param onChange told when it begins and ends */
  constructor(dataDir: string, onChange: (problem: StorageProblem | null) => void) {
    this.#dataDir = dataDir
    this.#onChange = onChange
  }

  get problem(): StorageProblem | null {
    return this.#problem
  }

  /** Something was not stored; errors that have nothing to do with the disk change nothing. */
  failed(error: unknown): void {
    const code = diskFailureOf(error)
    if (this.#dataDir === ':memory:' || code === null) return
    const isNew = this.#problem === null
    this.#set(troubleOf(code))
    // SQLite calls some full disks failing ones: a trial knows which it is.
    if (isNew) void this.try()
  }

  /** The state now, tried when the last trial is a while ago. */
  async ask(): Promise<StorageProblem | null> {
    if (this.#dataDir !== ':memory:' && performance.now() - this.#triedAtMs > TRY_MS) await this.try()
    return this.#problem
  }

  /** Writes something now; of several calls at once one does. */
  try(): Promise<void> {
    this.#trial ??= this.#write(this.#problem ? ROOM_BYTES : SMALL_BYTES).finally(() => (this.#trial = null))
    return this.#trial
  }

  /** Room on the disk of the data folder, bytes; null without one. */
  async room(): Promise<{ readonly freeBytes: number; readonly sizeBytes: number } | null> {
    if (this.#dataDir === ':memory:') return null
    const { bavail, blocks, bsize } = await statfs(this.#dataDir)
    return { freeBytes: bavail * bsize, sizeBytes: blocks * bsize }
  }

  close(): void {
    clearInterval(this.#retry ?? undefined)
    this.#retry = null
  }

  async #write(bytes: number): Promise<void> {
    this.#triedAtMs = performance.now()
    const path = join(this.#dataDir, `trial-${randomUUID()}`)
    try {
      const file = await open(path, 'wx', 0o600)
      try {
        await file.writeFile(new Uint8Array(bytes))
        await file.sync()
      } finally {
        await file.close()
      }
      this.#clear()
    } catch (error) {
      this.#set(troubleOf((error as NodeJS.ErrnoException).code))
    } finally {
      // On a read-only file system there is nothing to remove.
      await rm(path, { force: true }).catch(() => undefined)
    }
  }

  #set(trouble: StorageTrouble): void {
    // What a trial found out is more exact than what SQLite says of the same disk.
    if (this.#problem && (trouble === 'failing' || trouble === this.#problem.trouble)) return
    this.#problem = { trouble, since: this.#problem?.since ?? new Date().toISOString() }
    this.#retry ??= setInterval(() => void this.try(), RETRY_MS).unref()
    this.#onChange(this.#problem)
  }

  #clear(): void {
    if (!this.#problem) return
    this.#problem = null
    this.close()
    this.#onChange(null)
  }
}

/** Of the error of a system call, or of SQLite. */
function troubleOf(code = ''): StorageTrouble {
  if (/^(ENOSPC|EDQUOT|EFBIG|SQLITE_FULL)/.test(code)) return 'full'
  if (/^(EROFS|EACCES|EPERM|SQLITE_READONLY)/.test(code)) return 'read-only'
  return 'failing'
}
