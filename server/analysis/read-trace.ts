import { isEdf, parseEdf } from '#signal/trace/edf-read'
import { parseTrace } from '#signal/trace/parse'
import type { ParsedTrace, ParseOptions } from '#signal/trace/parse'
import { traceText } from './trace-text.ts'

/**
 * The trace in a file, EDF+ or text, told apart by its first bytes and not by its name.
 * @throws {TraceError} for what cannot be read
 */
export function readTrace(bytes: Uint8Array, options: ParseOptions): ParsedTrace {
  return isEdf(bytes) ? parseEdf(bytes, options) : parseTrace(traceText(bytes), options)
}
