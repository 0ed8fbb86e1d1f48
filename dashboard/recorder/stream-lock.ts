/** Held by the tab that records or sends a stream, until its recorder ends. */
export const lockName = (stream: string) => `swaybook-stream-${stream}`

export type HoldStream = (stream: string) => Promise<boolean>

/**
 * Takes a stream for this tab alone, until its Worker ends; false when another tab has it. Without
 * Web Locks (a page not served securely) the server decides: a newer sender replaces the older one.
 */
export const holdStream: HoldStream = (stream) => {
  const locks = (navigator as Partial<Navigator>).locks
  if (!locks) return Promise.resolve(true)
  return new Promise((resolve, reject) => {
    locks
      .request(lockName(stream), { ifAvailable: true }, (lock) => {
        resolve(lock !== null)
        return lock && new Promise<never>(() => {})
      })
      .catch(reject)
  })
}

/** The streams that some tab of this browser records or sends now. */
export async function heldStreams(): Promise<ReadonlySet<string>> {
  const locks = (navigator as Partial<Navigator>).locks
  if (!locks) return new Set()
  const prefix = lockName('')
  const { held = [] } = await locks.query()
  return new Set(held.flatMap(({ name }) => (name?.startsWith(prefix) ? [name.slice(prefix.length)] : [])))
}
