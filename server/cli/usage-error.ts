/** A command line that makes no sense; the message says what to write instead. */
export class UsageError extends Error {
  override readonly name = 'UsageError'
}
