/** Of SQLite, and of the system where files are written without it. */
const DISK_CODES =
  /^(SQLITE_(FULL|IOERR|CORRUPT|NOMEM|READONLY|CANTOPEN)|(ENOSPC|EDQUOT|EFBIG|EROFS|EACCES|EPERM|EIO)$)/

/** Whether an error of a store says that its disk is full, read-only or failing: nothing of the write is kept then. */
export function isDiskFailure(error: unknown): boolean {
  return diskFailureOf(error) !== null
}

/** The code of the disk's own error, however deep it is the cause of another; null where it has nothing to do with it. */
export function diskFailureOf(error: unknown): string | null {
  for (let at = error, depth = 0; at instanceof Error && depth < 5; at = at.cause, depth++) {
    const { code } = at as { code?: unknown }
    if (typeof code === 'string' && DISK_CODES.test(code)) return code
  }
  return null
}
