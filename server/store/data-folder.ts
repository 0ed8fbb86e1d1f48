import { accessSync, chmodSync, constants, mkdirSync, readdirSync, statSync } from 'node:fs'
import { dirname, join } from 'node:path'

/** The databases with their logs, and the folder of imports. */
const OWN_FILES = /^(swaybook\.|imports$)/

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
    closeToOthers(dataDir)
  } catch (cause) {
    throw unusableFolder(dataDir, cause as Error)
  }
}

/**
 * Takes from other accounts what they may do with our files, as an unpacked backup or a copy may have them, and with
 * the folder when nothing else lies in it: a folder that is somebody's for more than this stays as it is.
 */
function closeToOthers(dataDir: string): void {
  // Windows has no such permissions: there the folder of a person's application data is their own.
  if (process.platform === 'win32') return
  const names = readdirSync(dataDir)
  const own = names.filter((name) => OWN_FILES.test(name))
  for (const name of own) close(join(dataDir, name))
  if (own.length > 0 && own.length === names.length) close(dataDir)
}

function close(path: string): void {
  const { mode, uid } = statSync(path)
  if ((mode & 0o077) !== 0 && uid === process.getuid?.()) chmodSync(path, mode & 0o700)
}

/** What stands in the way of using `dataDir`, and what to do. */
export function unusableFolder(dataDir: string, cause: Error): DataFolderError {
  if ((cause as NodeJS.ErrnoException).code === 'ERR_DLOPEN_FAILED') {
    return new DataFolderError(
      `SQLite's addon was not compiled for this Node ${process.version}: run npm ci with it.`,
      { cause },
    )
  }
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
