const REPLACEMENT = 0xfffd

/** The bytes of a text in UTF-8 (RFC 3629). A lone surrogate becomes U+FFFD. */
export function encodeUtf8(text: string): Uint8Array {
  const bytes: number[] = []
  for (const character of text) {
    const point = character.codePointAt(0)!
    const code = point >= 0xd800 && point <= 0xdfff ? REPLACEMENT : point
    if (code < 0x80) bytes.push(code)
    else if (code < 0x800) bytes.push(0xc0 | (code >> 6), tail(code))
    else if (code < 0x10000) bytes.push(0xe0 | (code >> 12), tail(code >> 6), tail(code))
    else bytes.push(0xf0 | (code >> 18), tail(code >> 12), tail(code >> 6), tail(code))
  }
  return Uint8Array.from(bytes)
}

/** The text in UTF-8 bytes (RFC 3629); each byte that fits no character becomes U+FFFD. */
export function decodeUtf8(bytes: Uint8Array): string {
  let text = ''
  for (let i = 0; i < bytes.length;) {
    const lead = bytes[i]
    const length = lead < 0x80 ? 1 : lead >= 0xf0 ? 4 : lead >= 0xe0 ? 3 : 2
    let code = length === 1 ? lead : lead & (0xff >> (length + 1))
    let isWhole = lead < 0x80 || (lead >= 0xc2 && lead <= 0xf4)
    for (let k = 1; isWhole && k < length; k++) {
      isWhole = (bytes[i + k] & 0xc0) === 0x80
      code = (code << 6) | (bytes[i + k] & 0x3f)
    }
    isWhole &&= code >= SMALLEST[length] && code <= 0x10ffff && !(code >= 0xd800 && code <= 0xdfff)
    text += String.fromCodePoint(isWhole ? code : REPLACEMENT)
    i += isWhole ? length : 1
  }
  return text
}

/** Smallest code point that needs so many bytes: longer forms are not allowed. */
const SMALLEST = [0, 0, 0x80, 0x800, 0x10000]

function tail(code: number): number {
  return 0x80 | (code & 0x3f)
}
