import type { ApiError } from './problem'

/** Asked this often while all is well, and while nothing can be stored, ms. */
const WELL_MS = 60_000
const TROUBLE_MS = 4000
/** How long "works again" stays, ms. */
const RECOVERED_MS = 10_000

/** What /api/ready says of the disk; it has other reasons, which a screen tells by itself. */
const DISK_CODES = ['DISK_FULL', 'DISK_READ_ONLY', 'DISK_FAILING']

/** Refusals after which the server is asked what is the matter. */
const TOLD_BY = ['DISK_FAILED', 'SERIES_UNAVAILABLE']

interface Reason {
  readonly code: string
  readonly detail: string
}
interface Readiness {
  readonly reasons: readonly Reason[]
  readonly warnings?: readonly Reason[]
}

/** Whether the server can store anything: asked now and then, and at once when something was not stored. */
export class StorageTrouble {
  /** Why nothing can be stored and what to do, in the server's words; null while all is well. */
  detail = $state<string | null>(null)
  /** Why samples that another server keeps are out of reach; new ones are stored all the same. Null while all is well. */
  samplesAway = $state<string | null>(null)
  /** It was so a moment ago. */
  recovered = $state(false)
  #asking: Promise<void> | null = null
  #timer: ReturnType<typeof setTimeout> | undefined
  #recoveredTimer: ReturnType<typeof setTimeout> | undefined
  #watched = false

  /** Asks from now on while the page is visible; gives how to stop. */
  watch(): () => void {
    this.#watched = true
    const onVisible = () => {
      if (document.visibilityState === 'visible') void this.ask()
    }
    document.addEventListener('visibilitychange', onVisible)
    void this.ask()
    return () => {
      this.#watched = false
      document.removeEventListener('visibilitychange', onVisible)
      clearTimeout(this.#timer)
      clearTimeout(this.#recoveredTimer)
    }
  }

  /** Something was refused: when it is the disk, the server says more. */
  noteRefusal(error: ApiError): void {
    if (TOLD_BY.includes(error.problem?.code ?? '')) void this.ask()
  }

  /** Several at once are one. */
  ask(): Promise<void> {
    this.#asking ??= this.#ask().finally(() => {
      this.#asking = null
      this.#askLater()
    })
    return this.#asking
  }

  async #ask(): Promise<void> {
    let readiness: Readiness
    try {
      readiness = (await (await fetch('/api/ready')).json()) as Readiness
    } catch {
      // Out of reach, or no answer of ours: nothing new is known, and every screen tells that itself.
      return
    }
    if (!Array.isArray(readiness.reasons)) return
    const away = readiness.warnings?.find(({ code }) => code === 'SERIES_SPILLING')
    this.samplesAway = away?.detail ?? null
    const found = readiness.reasons.find(({ code }) => DISK_CODES.includes(code))
    if (found) this.recovered = false
    else if (this.detail !== null) this.#tellRecovered()
    this.detail = found?.detail ?? null
  }

  #tellRecovered() {
    this.recovered = true
    clearTimeout(this.#recoveredTimer)
    this.#recoveredTimer = setTimeout(() => (this.recovered = false), RECOVERED_MS)
  }

  #askLater() {
    clearTimeout(this.#timer)
    if (!this.#watched) return
    this.#timer = setTimeout(
      () => {
        if (document.visibilityState === 'visible') void this.ask()
        else this.#askLater()
      },
      this.detail === null && this.samplesAway === null ? WELL_MS : TROUBLE_MS,
    )
  }
}

export const storageTrouble = new StorageTrouble()
