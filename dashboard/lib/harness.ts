import type { SampleFrame } from '#protocol/frames'
import type { Mark } from '#signal/trace/trace'

/** What a sensor tells before its first sample. */
export interface HarnessInfo {
  rateHz: number
  channels: 3 | 6
  startedAtUs: number
}

export interface HarnessHandlers {
  onReady(info: HarnessInfo): void
  onFrame(frame: SampleFrame): void
  /** A mark the harness brings itself (the simulated handler's). */
  onMark(mark: Mark): void
  /** There is nothing more to come. */
  onEnd(): void
  onError(message: string): void
}

/** A source of samples: a sensor, or the simulated one. */
export interface Harness {
  start(): void
  stop(): void
}
