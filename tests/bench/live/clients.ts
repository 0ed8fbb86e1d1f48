/**
 * The senders and viewers of the load bench, in a process of their own. Sender and viewer share a
 * clock. Packets are stamped when they are really sent, and how late that was is told beside the
 * latency, so that a starved bench is not taken for a slow server.
 */
import { setTimeout as sleep } from 'node:timers/promises'
import { WebSocket } from 'ws'
import { CHANNELS, PACKET_MS, packet, RATE_HZ, SAMPLES_PER_PACKET } from './waveform.ts'
import { percentiles } from './round.ts'
import type { Order, Report, Round, RoundResult } from './round.ts'

/** Connections being opened at one time. */
const OPENING = 20
/** Longest wait for the last acknowledgements, s. */
const DRAIN_S = 30
/** The server bounds requests per address; the clients spread over this many loopback addresses. */
const ADDRESSES = process.platform === 'linux' ? 16 : 1

interface Client {
  readonly sender: WebSocket
  readonly viewer: WebSocket
  /** When its first packet is due, ms. */
  startMs: number
  sent: number
  acknowledged: number
  finished: (() => void) | null
}

const tell = (report: Report) => process.send!(report)
const nowMs = () => performance.timeOrigin + performance.now()

let clients: Client[] = []
let measuring = false
const latenciesMs: number[] = []
let windows = 0
let snapshots = 0
let viewerBytes = 0
const broken: string[] = []

process.on('message', (order: Order) => {
  if (order.kind === 'round') void run(order.round).then((result) => tell({ kind: 'result', result }))
  else void finish(order.streams)
})

async function run(round: Round): Promise<RoundResult> {
  clients = await openAll(round)
  const lateMs: number[] = []
  const startMs = nowMs() + 100
  // Golden ratio steps: evenly spread over the ramp and within a packet, however many there are.
  for (const [i, client] of clients.entries()) {
    client.startMs = startMs + round.rampS * 1000 * ((i * 0.618034) % 1)
  }
  const measureMs = startMs + (round.rampS + round.warmUpS) * 1000
  const endMs = measureMs + round.seconds * 1000
  let cpu = process.cpuUsage()
  let fromMs = 0
  const order = [...clients.keys()].sort((a, b) => phase(a) - phase(b))
  function phase(i: number): number {
    return (clients[i].startMs - startMs) % PACKET_MS
  }
  for (let cycle = 0; ; cycle++) {
    const cycleMs = startMs + cycle * PACKET_MS
    if (cycleMs >= endMs) break
    if (!measuring && cycleMs >= measureMs) {
      tell({ kind: 'measuring' })
      measuring = true
      fromMs = nowMs()
      cpu = process.cpuUsage()
    }
    for (const i of order) {
      const client = clients[i]
      const dueMs = cycleMs + phase(i)
      if (dueMs < client.startMs - 1e-6) continue
      const waitMs = dueMs - nowMs()
      if (waitMs > 0) await sleep(waitMs)
      send(i, client)
      if (measuring) lateMs.push(nowMs() - dueMs)
    }
  }
  const measuredS = (nowMs() - fromMs) / 1000
  const { user, system } = process.cpuUsage(cpu)
  measuring = false
  tell({ kind: 'measured' })
  const drainedMs = await drained()
  return {
    latencyMs: percentiles(latenciesMs),
    lateMs: percentiles(lateMs),
    windowsPerS: windows / measuredS,
    snapshots,
    viewerBytesPerS: viewerBytes / measuredS,
    clientCpuS: (user + system) / 1e6,
    measuredS,
    sentSamples: clients.map(({ sent }) => sent),
    acknowledgedSamples: clients.map(({ acknowledged }) => acknowledged),
    drainedMs,
    broken,
  }
}

function send(i: number, client: Client): void {
  if (client.sender.readyState !== WebSocket.OPEN) return
  client.sender.send(packet(i, client.sent, Math.round(nowMs() * 1000)))
  client.sent += SAMPLES_PER_PACKET
}

/** Waits until everything sent is acknowledged; gives how long that took. */
async function drained(): Promise<number | null> {
  const fromMs = nowMs()
  while (nowMs() < fromMs + DRAIN_S * 1000) {
    if (clients.every(({ sent, acknowledged }) => acknowledged === sent)) return nowMs() - fromMs
    await sleep(1)
  }
  return null
}

async function openAll(round: Round): Promise<Client[]> {
  const opened: Client[] = []
  let next = 0
  const worker = async () => {
    while (next < round.sessions.length) {
      const i = next++
      opened[i] = await open(round, i)
    }
  }
  await Promise.all(Array.from({ length: OPENING }, worker))
  return opened
}

async function open({ wsUrl, sessions }: Round, i: number): Promise<Client> {
  const options = {
    perMessageDeflate: false,
    ...(ADDRESSES > 1 && { localAddress: `127.0.0.${1 + (i % ADDRESSES)}` }),
  }
  const viewer = new WebSocket(`${wsUrl}/api/live/watch?session=${sessions[i]}`, options)
  const sender = new WebSocket(`${wsUrl}/api/live/send`, options)
  await Promise.all([opening(viewer), opening(sender)])
  const client: Client = { sender, viewer, startMs: 0, sent: 0, acknowledged: 0, finished: null }
  viewer.on('message', (data: Buffer) => watch(data))
  const welcomed = new Promise<void>((resolve) => {
    sender.on('message', (data: Buffer) => {
      const message = JSON.parse(data.toString())
      if (message.type === 'ack') client.acknowledged = Math.max(client.acknowledged, message.nextIndex)
      else if (message.type === 'welcome') resolve()
      else if (message.type === 'finished') client.finished?.()
      else if (message.type === 'error') broken.push(`sender ${i}: ${message.code}`)
    })
  })
  for (const [name, socket] of [
    ['sender', sender],
    ['viewer', viewer],
  ] as const) {
    socket.on('close', (code) => {
      if (!client.finished) broken.push(`${name} ${i}: closed with ${code}`)
    })
  }
  const startedAtUs = Math.round(nowMs() * 1000)
  const identity = { session: sessions[i], stream: `bench-${i}` }
  const hello = { type: 'hello', protocol: 1, ...identity, rateHz: RATE_HZ, channels: CHANNELS, startedAtUs }
  sender.send(JSON.stringify(hello))
  await welcomed
  return client
}

function opening(socket: WebSocket): Promise<void> {
  return new Promise((resolve, reject) => {
    socket.once('open', resolve)
    socket.once('error', reject)
  })
}

function watch(data: Buffer): void {
  if (!measuring) return
  const receivedMs = nowMs()
  viewerBytes += data.length
  const message = JSON.parse(data.toString())
  if (message.type === 'snapshot') snapshots++
  if (message.type !== 'window') return
  windows++
  latenciesMs.push(receivedMs - message.sampleArrivedAtUs / 1000)
}

/** Ends some streams as a sender does; then the process ends. */
async function finish(streams: readonly number[]): Promise<void> {
  await Promise.all(
    streams.map((i) => {
      const client = clients[i]
      const finished = new Promise<void>((resolve) => (client.finished = resolve))
      client.sender.send(JSON.stringify({ type: 'finish', stream: `bench-${i}`, nextIndex: client.sent }))
      return finished
    }),
  )
  process.exit(0)
}
