import type { Entry, ZipFile } from 'yauzl'
import { openPromise } from 'yauzl'
import { ArchiveError, EXPORT_AGAIN } from './archive-error.ts'

/** What an archive may be at most. A dog with ten years of two sessions a day has about 60 000 files. */
export interface ArchiveLimits {
  readonly entries: number
  readonly fileBytes: number
  readonly totalBytes: number
  /** Uncompressed over compressed, of the whole archive; text of samples packs to a third. */
  readonly ratio: number
}

export const ARCHIVE_LIMITS: ArchiveLimits = {
  entries: 100_000,
  fileBytes: 1024 ** 3,
  totalBytes: 64 * 1024 ** 3,
  ratio: 100,
}

/** Small archives may pack as well as they like. */
const RATIO_FROM_BYTES = 64 * 1024 ** 2
const STORED = 0
/** At least; name and extra field come on top (APPNOTE.TXT 4.3.7). */
const LOCAL_HEADER_BYTES = 30
const DEFLATED = 8
/** Of the Unix mode in the upper half of the external attributes. */
const FILE_TYPE = 0o170000
const REGULAR = 0o100000
const DIRECTORY = 0o040000

export interface OpenZip {
  readonly zip: ZipFile
  readonly entries: ReadonlyMap<string, Entry>
}

/**
 * The files a ZIP lists, by path, nothing unpacked yet; folders are passed over.
 * @throws {ArchiveError} for what is no ZIP, and for everything in one that no archive of ours has
 */
export async function openZip(path: string, limits: ArchiveLimits): Promise<OpenZip> {
  // Names are checked here: they are ASCII, and the errors say which one it is.
  const zip = await openPromise(path, { decodeStrings: false, autoClose: false }).catch(() => {
    throw new ArchiveError('ARCHIVE_NOT_ZIP', 'This file is no ZIP archive, or it is cut off.', {
      remedy: 'Choose the .zip that Swaybook exported.',
    })
  })
  try {
    return { zip, entries: await entriesOf(zip, limits) }
  } catch (error) {
    zip.close()
    if (error instanceof ArchiveError) throw error
    throw damaged(error as Error)
  }
}

export function damaged(cause: Error, file?: string): ArchiveError {
  const what = file === undefined ? 'The list of files in the ZIP' : `${file} in the ZIP`
  return new ArchiveError('ARCHIVE_DAMAGED', `${what} cannot be read: ${cause.message}`, {
    file,
    remedy: EXPORT_AGAIN,
  })
}

async function entriesOf(zip: ZipFile, limits: ArchiveLimits): Promise<Map<string, Entry>> {
  const entries = new Map<string, Entry>()
  let totalBytes = 0
  let packedBytes = 0
  if (zip.entryCount > limits.entries) throw tooLarge(`it lists more than ${limits.entries} files`)
  for await (const entry of zip.eachEntry()) {
    const file = checkedName(entry)
    if (entry.isEncrypted()) {
      throw new ArchiveError('ARCHIVE_ENCRYPTED', `${file} is encrypted.`, { file, remedy: EXPORT_AGAIN })
    }
    checkType(entry, file)
    if (file.endsWith('/')) continue
    if (entry.compressionMethod !== STORED && entry.compressionMethod !== DEFLATED) {
      throw damaged(new Error(`it is packed by method ${entry.compressionMethod}, not deflate`), file)
    }
    if (entries.has(file)) {
      throw new ArchiveError('ARCHIVE_NAME_TWICE', `${file} is in the ZIP twice.`, {
        file,
        remedy: EXPORT_AGAIN,
      })
    }
    totalBytes += entry.uncompressedSize
    packedBytes += entry.compressedSize
    if (entry.uncompressedSize > limits.fileBytes) {
      throw tooLarge(`it unpacks to more than ${limits.fileBytes} bytes`, file)
    }
    if (totalBytes > limits.totalBytes) throw tooLarge(`it unpacks to more than ${limits.totalBytes} bytes`)
    entries.set(file, entry)
  }
  requireApart([...entries.values()])
  if (totalBytes > RATIO_FROM_BYTES && totalBytes > limits.ratio * packedBytes) {
    throw tooLarge(`it unpacks to more than ${limits.ratio} times its size`)
  }
  return entries
}

/**
 * Entries that share bytes unpack to far more than their sizes tell (Fifield, "A better zip bomb", USENIX WOOT 2019);
 * no program that packs files makes them.
 */
function requireApart(entries: Entry[]): void {
  entries.sort((a, b) => a.relativeOffsetOfLocalHeader - b.relativeOffsetOfLocalHeader)
  let endOfLast = 0
  for (const { relativeOffsetOfLocalHeader: start, compressedSize } of entries) {
    if (start < endOfLast) throw damaged(new Error('files in it overlap'))
    endOfLast = start + LOCAL_HEADER_BYTES + compressedSize
  }
}

function checkedName(entry: Entry): string {
  // With decodeStrings off the name is bytes, whatever the types say.
  const name = (entry.fileName as unknown as Buffer).toString('latin1')
  const shown = JSON.stringify(name.slice(0, 200))
  const segments = name.split('/')
  const safe =
    /^[A-Za-z0-9_./-]{1,200}$/.test(name) &&
    !name.startsWith('/') &&
    segments.every(
      (segment, i) => segment !== '.' && segment !== '..' && (segment !== '' || i === segments.length - 1),
    )
  if (safe) return name
  throw new ArchiveError(
    'ARCHIVE_NAME_UNSAFE',
    `The ZIP holds a file named ${shown}; no archive of ours does.`,
    {
      remedy: EXPORT_AGAIN,
    },
  )
}

/** Made on Unix or not: a type that is given must be that of a file or, for a name that ends so, of a folder. */
function checkType(entry: Entry, file: string): void {
  const type = (entry.externalFileAttributes >>> 16) & FILE_TYPE
  if (type === 0 || type === (file.endsWith('/') ? DIRECTORY : REGULAR)) return
  throw new ArchiveError('ARCHIVE_LINK', `${file} is a link or something else that is no file.`, {
    file,
    remedy: EXPORT_AGAIN,
  })
}

function tooLarge(reason: string, file?: string): ArchiveError {
  return new ArchiveError('ARCHIVE_TOO_LARGE', `${file ?? 'The archive'} is too large: ${reason}.`, { file })
}
