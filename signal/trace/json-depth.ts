import { TraceError } from './trace-error.ts'

/** Deeper than any form of a trace; what lies deeper costs a reader far more than its length. */
const MAX_DEPTH = 32
const [QUOTE, BACKSLASH] = [34, 92]

/**
 * Whether a JSON text is one that may be parsed: brackets in it lie in each other a few deep, as in a table.
 * @throws {TraceError} BAD_JSON, with the line of the bracket that is too deep
 */
export function requireShallow(text: string): void {
  let depth = 0
  let inText = false
  for (let at = 0; at < text.length; at++) {
    const code = text.charCodeAt(at)
    if (inText) {
      if (code === BACKSLASH) at++
      else if (code === QUOTE) inText = false
    } else if (code === QUOTE) inText = true
    // [ and {, ] and }: 0x5b and 0x7b, 0x5d and 0x7d.
    else if ((code | 0x20) === 0x7b && ++depth > MAX_DEPTH) throw tooDeep(text, at)
    else if ((code | 0x20) === 0x7d) depth--
  }
}

function tooDeep(text: string, at: number): TraceError {
  return new TraceError(
    'BAD_JSON',
    `arrays and objects lie in each other more than ${MAX_DEPTH} deep`,
    'Choose the file that holds the samples.',
    { line: text.slice(0, at).split('\n').length },
  )
}
