import type { FROM_DEVICE_HEADER } from '../service-worker/answers'

// The type holds the two together: a shared value would be a chunk that sw.js has to import.
const HEADER: typeof FROM_DEVICE_HEADER = 'x-swaybook-from-device'

/** Whether the newest answer came from this device instead of the server, and of when it is (ISO 8601). */
export const fromDevice = $state<{ savedAt: string | null }>({ savedAt: null })

/** Notes where an answer of the API came from. */
export function noteAnswer(response: Response): void {
  fromDevice.savedAt = response.headers.get(HEADER)
}
