import type { Adoption, Archives, DogArchive, SessionArchive } from '../archives.ts'
import { adopt } from './adopt.ts'
import { readDog, readSession } from './archive-reader.ts'
import type { Connection } from './connection.ts'

export class SqliteArchives implements Archives {
  readonly #connection: Connection
  readonly #raw: Connection['raw']

  constructor(connection: Connection) {
    this.#connection = connection
    this.#raw = connection.raw
  }

  async dog(dogId: string): Promise<DogArchive | null> {
    return this.#raw.transaction(() => readDog(this.#raw, dogId))()
  }

  async session(sessionId: string): Promise<SessionArchive | null> {
    return this.#raw.transaction(() => readSession(this.#raw, sessionId))()
  }

  adopt(dataDir: string, told: Adoption): Promise<void> {
    return adopt(this.#connection, dataDir, told)
  }
}
