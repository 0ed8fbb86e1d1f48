import type { Mark } from '#signal/trace/trace'
import type { Problem } from '#protocol/resources'
import type { TraceFields } from '../../lib/upload'
import { playable, previewOf } from './playable'
import type { Playable, TracePreview } from './playable'
import { Player } from './player'
import { problemOfTrace, readTrace } from './read-trace'

/** Reads a trace and plays it in real time. In a Worker: reading may take long, and timers of a hidden page are slowed down. */
export type ToReplay =
  | { type: 'read'; bytes: ArrayBuffer; fields: TraceFields }
  /** From its beginning; `withMarks` when it is recorded. */
  | { type: 'play'; withMarks: boolean; take: number }

/** What is played carries the number of the `play` it answers: messages of an earlier one may be on their way. */
export type FromReplay =
  | { type: 'read'; preview: TracePreview; channels: 3 | 6 }
  | { type: 'unreadable'; problem: Problem }
  | { type: 'samples'; take: number; firstIndex: number; values: Float64Array[] }
  | { type: 'mark'; take: number; mark: Mark }
  | { type: 'end'; take: number }

const STEP_MS = 100

let trace: Playable | null = null
let timer: ReturnType<typeof setInterval> | undefined
/** One past the newest index delivered. */
let nextIndex = 0

function post(message: FromReplay) {
  self.postMessage(message)
}

function read(bytes: ArrayBuffer, fields: TraceFields) {
  try {
    const parsed = readTrace(new Uint8Array(bytes), fields)
    trace = playable(parsed)
    post({ type: 'read', preview: previewOf(parsed, trace), channels: trace.channels })
  } catch (error) {
    const problem = problemOfTrace(error)
    if (!problem) throw error
    post({ type: 'unreadable', problem })
  }
}

function play(withMarks: boolean, take: number) {
  if (!trace) throw new Error('play came before a trace was read')
  clearInterval(timer)
  const startMs = performance.now()
  const player = new Player(
    trace,
    {
      samples(firstIndex, values) {
        nextIndex = firstIndex + values[0].length
        post({ type: 'samples', take, firstIndex, values })
      },
      mark: (mark) => post({ type: 'mark', take, mark }),
      end() {
        clearInterval(timer)
        // Only watched so far: begins anew, so that there is something to watch.
        if (withMarks) post({ type: 'end', take })
        else play(false, take)
      },
    },
    { offset: nextIndex, withMarks },
  )
  timer = setInterval(() => player.advance((performance.now() - startMs) / 1000), STEP_MS)
}

self.onmessage = ({ data }: MessageEvent<ToReplay>) => {
  if (data.type === 'read') read(data.bytes, data.fields)
  else play(data.withMarks, data.take)
}
