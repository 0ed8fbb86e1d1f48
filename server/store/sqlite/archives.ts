import type { Adoption, Archives, DogArchive, SessionArchive } from '../archives.ts'
import { adopt } from './adopt.ts'
import { readDog, readSession } from './archive-reader.ts'
import type { Connection } from './connection.ts'

export class SqliteArchives implements Archives {
  readonly #connection: Connection
  readonly #raw: Connection['raw']

  readonly #onAdopted: () => void

  /** @param onAdopted told when samples have come in that nobody appended */
  constructor(connection: Connection, onAdopted: () => void = () => undefined) {
    this.#connection = connection
    this.#raw = connection.raw
    this.#onAdopted = onAdopted
  }

  async dog(dogId: string): Promise<DogArchive | null> {
    return this.#raw.transaction(() => readDog(this.#raw, dogId))()
  }

  async session(sessionId: string): Promise<SessionArchive | null> {
    return this.#raw.transaction(() => readSession(this.#raw, sessionId))()
  }

  async adopt(dataDir: string, told: Adoption): Promise<void> {
    await adopt(this.#connection, dataDir, told)
    this.#onAdopted()
  }
}
