import { accessSync, constants, mkdirSync, statSync } from 'node:fs'
import { dirname } from 'node:path'

/** The data folder cannot be made, written to or had for ourselves; the message says what to do. */
export class DataFolderError extends Error {
  override readonly name = 'DataFolderError'
}

/**
 * Makes `dataDir`, readable by its owner alone, with what is missing above it. Step by step from the
 * nearest folder there is: Node's `recursive` tries for ever where a file system answers ENOENT for
 * a folder whose parent exists (/proc does; seen with Node 20.20).
 * @throws {DataFolderError} when it is no folder, or may not be made or written to
 */
export function makeDataFolder(dataDir: string): void {
  try {
    const missing: string[] = []
    let nearest = dataDir
    while (!statSync(nearest, { throwIfNoEntry: false })) {
      missing.unshift(nearest)
      nearest = dirname(nearest)
    }
    if (!statSync(nearest).isDirectory()) throw new Error(`${nearest} is not a folder`)
    accessSync(nearest, constants.W_OK | constants.X_OK)
    for (const folder of missing) makeFolder(folder)
  } catch (cause) {
    throw unusableFolder(dataDir, cause as Error)
  }
}

/** What stands in the way of using `dataDir`, and what to do. */
export function unusableFolder(dataDir: string, cause: Error): DataFolderError {
  const remedy = 'Set SWAYBOOK_DATA to a folder you may write to.'
  return new DataFolderError(`The data folder cannot be used: ${cause.message} (${dataDir}). ${remedy}`, {
    cause,
  })
}

function makeFolder(folder: string): void {
  try {
    mkdirSync(folder, { mode: 0o700 })
  } catch (error) {
    // Another process may just have made it.
    if (!statSync(folder, { throwIfNoEntry: false })?.isDirectory()) throw error
  }
}
