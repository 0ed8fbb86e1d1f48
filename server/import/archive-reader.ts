import { createHash } from 'node:crypto'
import type { Static } from 'typebox'
import type { Validator } from 'typebox/compile'
import { Compile } from 'typebox/compile'
import { FORMAT, FORMAT_VERSION } from '../export/archive-files.ts'
import type { ManifestFile } from '../export/archive-files.ts'
import { ARCHIVE_SCHEMAS } from '../export/archive-schemas.ts'
import type { JsonFileName } from '../export/archive-schemas.ts'
import { ArchiveError, EXPORT_AGAIN } from './archive-error.ts'
import { damaged, openZip } from './zip-entries.ts'
import type { ArchiveLimits, OpenZip } from './zip-entries.ts'

/** A JSON file is parsed whole. */
const MAX_JSON_BYTES = 64 * 1024 ** 2
const MANIFEST = 'manifest.json'

type JsonOf<Name extends JsonFileName> = Static<(typeof ARCHIVE_SCHEMAS)[Name]>

/** An archive whose manifest fits its list of files. What is read from it is checked against the manifest. */
export class ArchiveReader {
  readonly manifest: ManifestFile
  readonly #open: OpenZip
  readonly #files: ReadonlyMap<string, ManifestFile['files'][number]>
  readonly #validators = new Map<JsonFileName, Validator>()

  private constructor(open: OpenZip, manifest: ManifestFile) {
    this.#open = open
    this.manifest = manifest
    this.#files = new Map(manifest.files.map((file) => [file.path, file]))
  }

  /** @throws {ArchiveError} for what is no archive of ours, or not a whole one */
  static async open(path: string, limits: ArchiveLimits): Promise<ArchiveReader> {
    const open = await openZip(path, limits)
    try {
      const reader = new ArchiveReader(open, await manifestOf(open))
      reader.#checkList()
      return reader
    } catch (error) {
      open.zip.close()
      throw error
    }
  }

  close(): void {
    this.#open.zip.close()
  }

  has(path: string): boolean {
    return this.#files.has(path)
  }

  get paths(): Iterable<string> {
    return this.#files.keys()
  }

  /**
   * The bytes of a file; the last part comes only when size and SHA-256 are those of the manifest.
   * @throws {ArchiveError} otherwise, and for what cannot be unpacked
   */
  async *bytes(path: string): AsyncGenerator<Buffer> {
    const stated = this.#files.get(path)
    if (!stated) throw missing(path)
    const hash = createHash('sha256')
    let bytes = 0
    let held: Buffer | null = null
    for await (const part of unpacked(this.#open, path)) {
      hash.update(part)
      bytes += part.length
      if (held) yield held
      held = part
    }
    if (bytes !== stated.bytes || hash.digest('hex') !== stated.sha256) {
      throw new ArchiveError('ARCHIVE_FILE_CHANGED', `${path} is not what was exported: it was changed.`, {
        file: path,
        remedy: EXPORT_AGAIN,
      })
    }
    if (held) yield held
  }

  /** Reads a file only to check it. */
  async verify(path: string): Promise<void> {
    for await (const part of this.bytes(path)) void part
  }

  /**
   * The value of a JSON file, checked against the schema of `name`.
   * @throws {ArchiveError} naming file and place
   */
  async json<Name extends JsonFileName>(path: string, name: Name): Promise<JsonOf<Name>> {
    const value = parsed(await text(this.bytes(path), path), path)
    let validator = this.#validators.get(name)
    if (!validator) {
      validator = Compile(ARCHIVE_SCHEMAS[name]) as Validator
      this.#validators.set(name, validator)
    }
    check(validator, value, path)
    return value as JsonOf<Name>
  }

  /** The value of a JSON file whose form is not known. */
  async anyJson(path: string): Promise<unknown> {
    return parsed(await text(this.bytes(path), path), path)
  }

  #checkList(): void {
    const listed = [...this.#files.keys()]
    if (listed.length !== this.manifest.files.length) {
      throw new ArchiveError('ARCHIVE_NAME_TWICE', 'manifest.json names a file twice.', {
        file: MANIFEST,
        remedy: EXPORT_AGAIN,
      })
    }
    for (const path of listed) {
      if (!this.#open.entries.has(path)) throw missing(path)
    }
    for (const path of this.#open.entries.keys()) {
      if (path !== MANIFEST && !this.#files.has(path)) {
        throw new ArchiveError('ARCHIVE_FILE_UNKNOWN', `manifest.json does not know ${path}.`, {
          file: path,
          remedy: EXPORT_AGAIN,
        })
      }
    }
  }
}

async function manifestOf(open: OpenZip): Promise<ManifestFile> {
  if (!open.entries.has(MANIFEST)) throw notOurs('it has no manifest.json')
  const value = parsed(await text(unpacked(open, MANIFEST), MANIFEST), MANIFEST) as ManifestFile | null
  if (typeof value !== 'object' || value === null || value.format !== FORMAT) {
    throw notOurs(`the format named in manifest.json is not ${FORMAT}`)
  }
  if (Number.isInteger(value.formatVersion) && value.formatVersion > FORMAT_VERSION) {
    throw new ArchiveError(
      'ARCHIVE_NEWER',
      `The archive was made by a newer Swaybook (${String(value.softwareVersion).slice(0, 40)}): its format ` +
        `is ${value.formatVersion}, this one reads up to ${FORMAT_VERSION}.`,
      { file: MANIFEST, remedy: 'Update Swaybook here and try again.' },
    )
  }
  check(Compile(ARCHIVE_SCHEMAS[MANIFEST]) as Validator, value, MANIFEST)
  return value
}

/** Sizes are checked by yauzl while it inflates: an entry that yields more than it says is cut off. */
async function* unpacked({ zip, entries }: OpenZip, path: string): AsyncGenerator<Buffer> {
  try {
    const stream = await zip.openReadStreamPromise(entries.get(path)!)
    for await (const part of stream) yield part as Buffer
  } catch (error) {
    throw damaged(error as Error, path)
  }
}

async function text(bytes: AsyncIterable<Buffer>, path: string): Promise<string> {
  const parts: Buffer[] = []
  let size = 0
  for await (const part of bytes) {
    size += part.length
    if (size > MAX_JSON_BYTES) {
      throw new ArchiveError('ARCHIVE_TOO_LARGE', `${path} is larger than ${MAX_JSON_BYTES} bytes.`, {
        file: path,
      })
    }
    parts.push(part)
  }
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(Buffer.concat(parts))
  } catch {
    throw new ArchiveError('ARCHIVE_JSON_INVALID', `${path} is not UTF-8.`, {
      file: path,
      remedy: EXPORT_AGAIN,
    })
  }
}

function parsed(source: string, path: string): unknown {
  try {
    return JSON.parse(source)
  } catch (error) {
    const at = Number(/position (\d+)/.exec((error as Error).message)?.[1] ?? source.length)
    const line = source.slice(0, at).split('\n').length
    throw new ArchiveError('ARCHIVE_JSON_INVALID', `${path} is not JSON, at line ${line}.`, {
      file: path,
      line,
      remedy: EXPORT_AGAIN,
    })
  }
}

function check(validator: Validator, value: unknown, path: string): void {
  if (validator.Check(value)) return
  const [error] = validator.Errors(value)
  const place = error.instancePath || 'the whole'
  throw new ArchiveError('ARCHIVE_CONTENT_INVALID', `${path}, ${place}: ${error.message}.`, {
    file: path,
    remedy: EXPORT_AGAIN,
  })
}

export function missing(path: string): ArchiveError {
  return new ArchiveError('ARCHIVE_FILE_MISSING', `${path} is missing in the ZIP.`, {
    file: path,
    remedy: EXPORT_AGAIN,
  })
}

function notOurs(reason: string): ArchiveError {
  return new ArchiveError('ARCHIVE_NOT_OURS', `This ZIP is no archive of a dog: ${reason}.`, {
    remedy: 'Choose the ZIP that Swaybook exported, as it is.',
  })
}
