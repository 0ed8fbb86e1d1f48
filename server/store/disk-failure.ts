/** Whether an error of a store says that its disk is full or failing: nothing of the write is kept then. */
export function isDiskFailure(error: unknown): boolean {
  const code = (error as { code?: unknown } | null)?.code
  return typeof code === 'string' && /^SQLITE_(FULL|IOERR|CORRUPT|NOMEM|READONLY|CANTOPEN)/.test(code)
}
