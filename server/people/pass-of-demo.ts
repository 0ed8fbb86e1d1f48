import { hashOf, newSecret } from '../access/cookies.ts'
import type { Cookies } from '../access/cookies.ts'
import type { DemoPass } from '../demo/demo.ts'
import { newId } from '../routes/ids.ts'
import type { Store } from '../store/store.ts'

/** Longer than anybody looks at a demo; the pass ends with the demo, or with its process, before. */
const LIFETIME_MS = 7 * 86_400_000

/** The demo comes in as the person who started it, by a pass that nobody else ever sees. */
export class PassOfDemo implements DemoPass {
  readonly #parts: { readonly store: Store; readonly cookies: Cookies }
  readonly #personId: () => string
  #hash: string | null = null

  constructor(parts: { store: Store; cookies: Cookies }, personId: () => string) {
    this.#parts = parts
    this.#personId = personId
  }

  async open(): Promise<string> {
    const secret = newSecret()
    const hash = hashOf(secret)
    const nowMs = Date.now()
    await this.#parts.store.people.passes.add({
      hash,
      id: newId(),
      kind: 'demo',
      personId: this.#personId(),
      shareId: null,
      sessionId: null,
      device: 'the demo',
      createdAtMs: nowMs,
      expiresAtMs: nowMs + LIFETIME_MS,
    })
    this.#hash = hash
    return `${this.#parts.cookies.nameOf('swaybook_sign_in')}=${secret}`
  }

  async close(): Promise<void> {
    if (this.#hash === null) return
    const hash = this.#hash
    this.#hash = null
    await this.#parts.store.people.passes.remove(hash)
  }
}
