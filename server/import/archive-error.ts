/** What can be wrong with an archive, as programs may branch on it. */
export type ArchiveErrorCode =
  | 'ARCHIVE_NOT_ZIP'
  | 'ARCHIVE_DAMAGED'
  | 'ARCHIVE_ENCRYPTED'
  | 'ARCHIVE_NAME_UNSAFE'
  | 'ARCHIVE_NAME_TWICE'
  | 'ARCHIVE_LINK'
  | 'ARCHIVE_TOO_LARGE'
  | 'ARCHIVE_NOT_OURS'
  | 'ARCHIVE_NEWER'
  | 'ARCHIVE_FILE_MISSING'
  | 'ARCHIVE_FILE_UNKNOWN'
  | 'ARCHIVE_FILE_CHANGED'
  | 'ARCHIVE_JSON_INVALID'
  | 'ARCHIVE_CONTENT_INVALID'
  | 'ARCHIVE_SAMPLES_INVALID'

/** An archive that cannot be brought back: it is at fault, not the server. */
export class ArchiveError extends Error {
  override readonly name = 'ArchiveError'
  readonly code: ArchiveErrorCode
  /** Path within the ZIP. */
  readonly file: string | undefined
  readonly line: number | undefined
  readonly remedy: string | undefined

  constructor(
    code: ArchiveErrorCode,
    message: string,
    place: { file?: string; line?: number; remedy?: string } = {},
  ) {
    super(message)
    this.code = code
    this.file = place.file
    this.line = place.line
    this.remedy = place.remedy
  }
}

export const EXPORT_AGAIN = 'Export the dog again where it came from, and choose that ZIP as it is.'
