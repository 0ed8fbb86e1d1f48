/**
 * The senders and viewers of the soak, in a process of their own: one sensor, one sender and one viewer
 * per slot. It ends with the process that started it.
 */
import { PACKET_MS } from '../bench/live/waveform.ts'
import { percentiles } from '../bench/live/round.ts'
import type { Order, Progress, Report } from './client-messages.ts'
import { nowMs } from './now.ts'
import { Slot } from './slot.ts'

const PROGRESS_EVERY_MS = 2000
/** Longest wait for the last recordings to come to their end, ms. */
const ENDING_MS = 600_000
/** The wheel that turns once per packet has so many notches; slots are spread over them. */
const NOTCHES = 10

const tell = (report: Report) => process.send?.(report)

let slots: Slot[] = []
let all: Promise<unknown> = Promise.resolve()
let latenciesMs: number[] = []
let latestMs = 0

process.on('disconnect', () => process.exit(1))
// Ctrl+C reaches the whole group; the process that started this one decides.
process.on('SIGINT', () => undefined)
process.on('message', (order: Order) => {
  if (order.kind === 'begin') begin(order)
  else void end()
})

function begin({ seed, host, cookie, slots: homes }: Order & { kind: 'begin' }): void {
  slots = homes.map(
    ({ port, dogId }, slot) =>
      new Slot({
        ...{ seed, slot, port, host, cookie, dogId },
        violation: (text) => tell({ kind: 'violation', text }),
        window: (latencyMs) => latenciesMs.push(latencyMs),
      }),
  )
  all = Promise.all(slots.map((slot) => slot.run()))
  all.catch((error: Error) => {
    process.send?.({ kind: 'violation', text: error.message } satisfies Report, () => process.exit(1))
  })
  turnWheel()
  setInterval(() => tell({ kind: 'progress', progress: progress() }), PROGRESS_EVERY_MS)
}

/** Every slot's sensor has a packet once per turn; late notches follow at once, so that none is left out. */
function turnWheel(): void {
  const notchMs = PACKET_MS / NOTCHES
  const startMs = nowMs()
  let notch = 0
  setInterval(() => {
    for (; startMs + notch * notchMs <= nowMs(); notch++) {
      latestMs = Math.max(latestMs, nowMs() - startMs - notch * notchMs)
      for (let slot = notch % NOTCHES; slot < slots.length; slot += NOTCHES) slots[slot].tick()
    }
  }, notchMs)
}

function progress(): Progress {
  const latencyMs = latenciesMs.length > 0 ? percentiles(latenciesMs) : null
  const lateMs = latestMs
  latenciesMs = []
  latestMs = 0
  const sum = (of: (slot: Slot) => number) => slots.reduce((total, slot) => total + of(slot), 0)
  return {
    atMs: Date.now(),
    taken: sum(({ taken }) => taken),
    acknowledged: sum(({ acknowledged }) => acknowledged),
    sendersConnected: sum(({ senderConnected }) => Number(senderConnected)),
    viewersConnected: sum(({ viewerConnected }) => Number(viewerConnected)),
    recordingsFinished: sum(({ finished }) => finished),
    latencyMs,
    lateMs,
  }
}

async function end(): Promise<void> {
  for (const slot of slots) slot.end()
  const tooLong = setTimeout(() => {
    tell({ kind: 'violation', text: `not every recording came to its end within ${ENDING_MS / 1000} s` })
    account()
  }, ENDING_MS)
  await all
  clearTimeout(tooLong)
  account()
}

function account(): void {
  tell({ kind: 'progress', progress: progress() })
  process.send?.(
    { kind: 'ended', recordings: slots.flatMap((slot) => slot.accounts()) } satisfies Report,
    () => process.exit(0),
  )
}
