import { isEdf, parseEdf } from '#signal/trace/edf-read'
import { parseColumns, parseTrace, TraceError } from '#signal/trace/parse'
import type { ParsedTrace, ParseOptions } from '#signal/trace/parse'
import type { AccUnit } from '#signal/trace/units'
import type { Problem } from '#protocol/resources'
import type { TraceFields } from '../../lib/upload'

/** As the server reads an upload: EDF+ by its first bytes, else UTF-8, or UTF-16 with its byte order mark. */
export function readTrace(bytes: Uint8Array, fields: TraceFields): ParsedTrace {
  const options: ParseOptions = {
    ...(fields.unit && { unit: fields.unit as AccUnit }),
    ...(fields.rateHz && { rateHz: Number(fields.rateHz) }),
    ...(fields.columns && { columns: parseColumns(fields.columns) }),
  }
  if (isEdf(bytes)) return parseEdf(bytes, options)
  const isLittle = bytes[0] === 0xff && bytes[1] === 0xfe
  const isBig = bytes[0] === 0xfe && bytes[1] === 0xff
  const encoding = isLittle ? 'utf-16le' : isBig ? 'utf-16be' : 'utf-8'
  return parseTrace(new TextDecoder(encoding).decode(bytes), options)
}

/** Why a trace cannot be read, as the server words it for an upload; null for what is no fault of the file. */
export function problemOfTrace(error: unknown): Problem | null {
  if (!(error instanceof TraceError)) return null
  const { code, message, line, column, value, remedy } = error
  return {
    type: 'about:blank',
    title: 'The trace cannot be read',
    status: 422,
    detail: message,
    code,
    remedy,
    ...(line !== undefined && { line }),
    ...(column !== undefined && { column }),
    ...(value !== undefined && { value }),
  }
}
