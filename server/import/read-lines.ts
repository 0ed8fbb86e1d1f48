import { ArchiveError, EXPORT_AGAIN } from './archive-error.ts'

/** No row of ours comes near. */
const MAX_LINE_BYTES = 1000

/**
 * Lines of a text in parts, without their line feeds, some thousand at a time.
 * @throws {ArchiveError} for a line that is far too long, or a last one that is cut off
 */
export async function* linesOf(bytes: AsyncIterable<Buffer>, file: string): AsyncGenerator<string[]> {
  let rest = ''
  for await (const part of bytes) {
    // Digits, letters, commas: ASCII, so that a part may end anywhere.
    const lines = (rest + part.toString('latin1')).split('\n')
    rest = lines.pop()!
    if (rest.length > MAX_LINE_BYTES)
      throw new ArchiveError('ARCHIVE_SAMPLES_INVALID', `${file} has no lines.`, { file })
    yield lines
  }
  if (rest !== '') {
    throw new ArchiveError('ARCHIVE_SAMPLES_INVALID', `${file} ends in the middle of a line.`, {
      file,
      remedy: EXPORT_AGAIN,
    })
  }
}
