/** The text of a trace file: UTF-8, or UTF-16 when it begins with that byte order mark. */
export function traceText(bytes: Uint8Array): string {
  const little = bytes[0] === 0xff && bytes[1] === 0xfe
  const big = bytes[0] === 0xfe && bytes[1] === 0xff
  return new TextDecoder(little ? 'utf-16le' : big ? 'utf-16be' : 'utf-8').decode(bytes)
}
