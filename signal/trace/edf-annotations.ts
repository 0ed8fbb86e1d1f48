import { badEdf } from './edf-header.ts'
import { isMarkKind } from './marks.ts'
import { decodeUtf8 } from './utf8.ts'
import { shorten } from './trace-error.ts'
import type { Mark } from './trace.ts'

/** A time-stamped annotation list: texts that share an onset. */
export interface AnnotationList {
  /** Seconds from the start date and time of the file. */
  readonly onsetS: number
  readonly hasDuration: boolean
  /** The first list of a record has an empty first text: it tells when the record starts. */
  readonly texts: readonly string[]
}

const END_OF_LIST = 0
const END_OF_TEXT = 0x14
const BEFORE_DURATION = '\x15'
const ONSET = /^[+-]\d+(\.\d*)?$/
const DURATION = /^\d+(\.\d*)?$/

/**
 * The lists in the annotation signal of one record (EDF+ §2.2.2: onset, perhaps 0x15 and duration, 0x14,
 * then texts each closed by 0x14, then a zero byte; zero bytes fill the rest).
 *
 * @param bytes the part of the record that belongs to the signal
 * @param record number of the record counted from 1, for the error
 * @throws {TraceError} BAD_EDF
 */
export function readAnnotations(bytes: Uint8Array, record: number): AnnotationList[] {
  const lists: AnnotationList[] = []
  let from = 0
  while (from < bytes.length) {
    if (bytes[from] === END_OF_LIST) {
      from++
      continue
    }
    const end = bytes.indexOf(END_OF_LIST, from)
    if (end === -1 || bytes[end - 1] !== END_OF_TEXT) throw badList(bytes.subarray(from), record)
    lists.push(readList(bytes.subarray(from, end), record))
    from = end + 1
  }
  return lists
}

function readList(bytes: Uint8Array, record: number): AnnotationList {
  const [stamp, ...texts] = decodeUtf8(bytes).split('\x14')
  texts.pop() // after the last 0x14 stands nothing
  const [onset, duration] = stamp.split(BEFORE_DURATION)
  if (!ONSET.test(onset) || (duration !== undefined && !DURATION.test(duration))) {
    throw badList(bytes, record)
  }
  const onsetS = Number(onset)
  if (!(Math.abs(onsetS) < 1e9)) throw badList(bytes, record)
  return { onsetS, hasDuration: duration !== undefined, texts }
}

function badList(bytes: Uint8Array, record: number): Error {
  const shown = shorten(decodeUtf8(bytes.subarray(0, 60)))
  return badEdf(`data record ${record}: the annotation "${shown}" is not written as EDF+ asks`)
}

/** `repetition-start`, or `repetition-start: words` for a mark with a note. */
const KIND_WITH_NOTE = /^([a-z-]+): ?([^]*)$/

/** A text as a mark: a kind of mark, alone or with a note behind a colon; any other text is a note. */
export function markOf(text: string, atS: number): Mark {
  if (isMarkKind(text)) return { atS, kind: text }
  const [, kind, note] = KIND_WITH_NOTE.exec(text) ?? []
  return isMarkKind(kind) ? { atS, kind, note } : { atS, kind: 'note', note: text }
}

/**
 * The text that `markOf` reads back as the mark. Control characters that EDF+ reserves become blanks
 * (tab and line ends may stay).
 */
export function textOf({ kind, note }: Mark): string {
  if (note === undefined) return kind
  const plain = note.replace(/[\0-\x08\x0b\x0c\x0e-\x1f]/g, ' ')
  const readsAsItself = markOf(plain, 0).note === plain && markOf(plain, 0).kind === 'note'
  return kind === 'note' && plain !== '' && readsAsItself ? plain : `${kind}: ${plain}`
}
