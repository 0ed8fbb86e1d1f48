const SLOW_FRAME_MS = 20
const SLOW_FRAMES_IN_A_ROW = 10
const CAPPED_FRAME_MS = 1000 / 30

/** Decides which animation frames draw: all of them, or 30 a second once the device proves slow. */
export class FramePacer {
  #lastFrameMs = -Infinity
  #lastDrawMs = -Infinity
  #slowInRow = 0
  #capped = false

  get capped() {
    return this.#capped
  }

  shouldDraw(nowMs: number): boolean {
    const frameMs = nowMs - this.#lastFrameMs
    this.#lastFrameMs = nowMs
    // A pause of the page (hidden tab) says nothing about the speed of the device.
    if (frameMs > SLOW_FRAME_MS && frameMs < 1000) this.#slowInRow++
    else this.#slowInRow = 0
    if (this.#slowInRow >= SLOW_FRAMES_IN_A_ROW) this.#capped = true
    // 2 ms of slack: frames do not come at exact multiples.
    if (this.#capped && nowMs - this.#lastDrawMs < CAPPED_FRAME_MS - 2) return false
    this.#lastDrawMs = nowMs
    return true
  }
}
