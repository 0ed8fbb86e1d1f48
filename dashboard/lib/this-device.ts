/** As dashboard/service-worker/sw.ts names them. */
const RECORDS_CACHE = 'swaybook-records-1'

export interface DeviceStorage {
  /** What this site uses and may use, bytes; null where the browser does not say. */
  usageBytes: number | null
  quotaBytes: number | null
  /** Whether the browser promised not to clear it when space is short; null where it cannot. */
  persisted: boolean | null
  /** Answers of the server kept for the time without a network; null where none can be kept. */
  keptAnswers: number | null
}

/** What Swaybook keeps on this device. */
export async function deviceStorage(): Promise<DeviceStorage> {
  const { storage } = navigator as Partial<Navigator>
  const estimate = await storage?.estimate?.()
  return {
    usageBytes: estimate?.usage ?? null,
    quotaBytes: estimate?.quota ?? null,
    persisted: (await storage?.persisted?.()) ?? null,
    keptAnswers: await keptAnswers(),
  }
}

async function keptAnswers(): Promise<number | null> {
  // Pages that are not served securely have no cache.
  if (!('caches' in window)) return null
  // Opening a cache would make it.
  if (!(await caches.has(RECORDS_CACHE))) return 0
  return (await (await caches.open(RECORDS_CACHE)).keys()).length
}

/** Forgets kept answers. Recordings that are not on the server yet lie elsewhere and stay. */
export async function forgetKeptAnswers(): Promise<void> {
  if ('caches' in window) await caches.delete(RECORDS_CACHE)
}

/** Asks the browser not to clear this site's storage; it may say no without asking anybody. */
export async function askForPersistence(): Promise<boolean> {
  const { storage } = navigator as Partial<Navigator>
  return (await storage?.persist?.()) ?? false
}
