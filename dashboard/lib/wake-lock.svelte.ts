/** Keeps the screen on, as far as the browser lets it. */
export class ScreenWakeLock {
  /** `refused` by the browser (battery saver), `unsupported` by it; `off` while not wanted or hidden. */
  state = $state<'off' | 'held' | 'refused' | 'unsupported'>('off')
  #lock: WakeLockSentinel | null = null
  #wanted = false

  hold() {
    if (this.#wanted) return
    this.#wanted = true
    document.addEventListener('visibilitychange', this.#acquire)
    void this.#acquire()
  }

  release() {
    this.#wanted = false
    document.removeEventListener('visibilitychange', this.#acquire)
    void this.#lock?.release()
    this.#lock = null
    this.state = 'off'
  }

  /** A hidden page loses its lock, so it is asked for again each time the page comes to the front. */
  readonly #acquire = async () => {
    if (!this.#wanted || document.visibilityState !== 'visible' || this.#lock) return
    if (!('wakeLock' in navigator)) {
      this.state = 'unsupported'
      return
    }
    try {
      const lock = await navigator.wakeLock.request('screen')
      if (!this.#wanted) return void lock.release()
      this.#lock = lock
      this.state = 'held'
      lock.addEventListener('release', () => {
        this.#lock = null
        if (this.#wanted) this.state = 'off'
      })
    } catch {
      // The browser may say no (battery saver): shown, so that a person can keep the screen on.
      this.state = 'refused'
    }
  }
}
