import { heldStreams } from '../recorder/stream-lock'
import type { PageMessage } from '../service-worker/sw'

/**
 * Makes the dashboard open without a network. A newer version is taken over only here, when a page
 * starts and no tab records or sends: never under a recording, and never by a reload of its own.
 */
export async function registerServiceWorker(): Promise<void> {
  const { serviceWorker } = navigator as Partial<Navigator>
  // Missing on pages that are not served securely.
  if (!serviceWorker) return
  if (!serviceWorker.controller) {
    // The first visit: what this page has loaded so far went past the service worker.
    const keepLoaded = () => {
      const urls = performance.getEntriesByType('resource').map(({ name }) => name)
      tell(serviceWorker.controller, { type: 'keep', urls })
    }
    serviceWorker.addEventListener('controllerchange', keepLoaded, { once: true })
  }
  const registration = await serviceWorker.register('/sw.js', { updateViaCache: 'none' })
  if (registration.waiting && (await heldStreams()).size === 0) {
    tell(registration.waiting, { type: 'activate' })
  }
}

function tell(worker: ServiceWorker | null, message: PageMessage) {
  worker?.postMessage(message)
}
