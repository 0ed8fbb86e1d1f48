/** Longest text of a field, in UTF-16 units: what a client sends must not fill a disk. */
const MAX_LENGTH = 500
/** 32 random bytes, or a SHA-256, as base64url: the form of every secret of a link or a cookie here, and of its hash. */
const SECRET = /(?<![A-Za-z0-9_-])[A-Za-z0-9_-]{43}(?![A-Za-z0-9_-])/g
/**
 * Controls of C0 and C1, and the marks that turn the direction of text: JSON escapes only the first of them, and the
 * others move what a terminal shows.
 */
const CONTROL = /[\u0000-\u001f\u007f-\u009f\u200e\u200f\u2028-\u202e\u2066-\u2069]/g

export const HIDDEN = '[hidden]'

/** Text for one field of the log: nothing that looks like a secret of ours, nothing that moves a terminal, no end of it. */
export function plainText(text: string): string {
  const open = withoutSecrets(text)
  // Cut after that: half a secret would not be known as one.
  const short = open.length > MAX_LENGTH ? `${open.slice(0, MAX_LENGTH)}…` : open
  return short.replace(CONTROL, (character) => `\\u${character.charCodeAt(0).toString(16).padStart(4, '0')}`)
}

export function withoutSecrets(text: string): string {
  return text.replace(SECRET, HIDDEN)
}
