/** Bytes as two digits each, spaces between. */
export function hexOf(bytes: DataView, from = 0, to = bytes.byteLength): string {
  return Array.from({ length: to - from }, (_, i) =>
    bytes
      .getUint8(from + i)
      .toString(16)
      .padStart(2, '0'),
  ).join(' ')
}

/**
 * Bytes from what a person pastes: hex digits with spaces, commas, colons, hyphens or `0x` between bytes.
 *
 * @returns the bytes, or a sentence that says what is wrong with the text
 */
export function bytesFromHex(text: string): DataView<ArrayBuffer> | string {
  const groups = text
    .replace(/0x/gi, ' ')
    .split(/[\s,;:\-[\](){}]+/)
    .filter(Boolean)
  const wrong = groups.find((group) => /[^0-9a-f]/i.test(group))
  if (wrong !== undefined) return `“${wrong.slice(0, 20)}” is not hex: use the digits 0 to 9 and a to f.`
  // "1 2 a" are three bytes, as many tools print them; without spaces digits come in pairs.
  const bytes = groups.flatMap((group) => (group.length === 1 ? [group] : (group.match(/..?/g) ?? [])))
  const half = groups.find((group) => group.length > 1 && group.length % 2 === 1)
  if (half !== undefined) return `“${half.slice(0, 20)}” has an odd number of digits: each byte takes two.`
  return new DataView(Uint8Array.from(bytes, (byte) => Number.parseInt(byte, 16)).buffer)
}
