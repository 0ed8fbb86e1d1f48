import type { Mark } from '#signal/trace/trace'
import type {
  SensorSource,
  SourceHandlers,
  SourceInfo,
  SourcePacket,
  SourcePhase,
} from '../../../dashboard/sources/source.ts'

/** Samples of a sensor at rest whose z axis points up. */
export function packetOf(firstIndex: number, count: number, arrivedAtMs: number): SourcePacket {
  const values = [0, 0, 9.75].map((value) => new Float64Array(count).fill(value))
  return { firstIndex, arrivedAtMs, values }
}

/** A sensor under the test's control. */
export class FakeSource implements SensorSource {
  readonly sensor = 'bluetooth'
  stopped = 0
  reconnects = 0
  handlers: SourceHandlers | null = null

  start(handlers: SourceHandlers) {
    this.handlers = handlers
  }

  stop() {
    this.stopped++
  }

  reconnect() {
    this.reconnects++
  }

  info(changes: Partial<SourceInfo> = {}) {
    const description = { name: 'Bench sensor', batteryPercent: 80 }
    this.handlers!.onInfo({ nominalRateHz: 100, channels: 3, description, ...changes })
  }

  packet(firstIndex: number, count: number, arrivedAtMs: number) {
    this.handlers!.onPacket(packetOf(firstIndex, count, arrivedAtMs))
  }

  state(phase: SourcePhase, words: string) {
    this.handlers!.onState({ phase, words })
  }

  mark(mark: Mark) {
    this.handlers!.onMark(mark)
  }
}
