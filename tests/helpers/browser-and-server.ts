import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, expect } from 'vitest'
import { launchChromium } from './browser.ts'
import { startServer } from './running-server.ts'
import type { RunningServer } from './running-server.ts'

/** One server process and one Chromium for all tests of a file; the server must stop cleanly. */
export function browserAndServer(): { readonly server: RunningServer; readonly browser: Browser } {
  const parts: { server?: RunningServer; browser?: Browser } = {}
  beforeAll(async () => {
    parts.server = await startServer()
    parts.browser = await launchChromium()
  })
  afterAll(async () => {
    await parts.browser?.close()
    expect(await parts.server?.stop()).toBe(0)
  })
  return {
    get server() {
      return parts.server!
    },
    get browser() {
      return parts.browser!
    },
  }
}
