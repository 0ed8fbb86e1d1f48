import { heldStreams } from '../recorder/stream-lock'

/**
 * Makes the dashboard open without a network. A newer version is taken over only here, when a page
 * starts and no tab records or sends: never under a recording, and never by a reload of its own.
 */
export async function registerServiceWorker(): Promise<void> {
  const { serviceWorker } = navigator as Partial<Navigator>
  // Missing on pages that are not served securely.
  if (!serviceWorker) return
  const registration = await serviceWorker.register('/sw.js', { updateViaCache: 'none' })
  if (registration.waiting && (await heldStreams()).size === 0) registration.waiting.postMessage('activate')
}
