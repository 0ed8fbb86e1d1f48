/**
 * The floor of the load bench: a WebSocket server that does nothing but pass as many bytes. Every
 * sample frame is answered by an acknowledgement and by a window message to the viewer of its
 * session; nothing is decoded, stored or measured.
 */
import type { AddressInfo } from 'node:net'
import { WebSocketServer } from 'ws'
import type { WebSocket } from 'ws'
import { LivePipeline } from '#signal/live/pipeline'
import type { LiveStrip } from '#signal/live/live-types'
import { RATE_HZ, SAMPLES_PER_PACKET, truth } from './waveform.ts'

/** Window messages as the server sends them, up to where the time of arrival goes. */
const TEXTS = windowTexts(60)

function windowTexts(seconds: number): string[] {
  const texts: string[] = []
  let strips: LiveStrip[] = []
  const pipeline = new LivePipeline({
    rateHz: RATE_HZ,
    sink: {
      onWindow: (window) => texts.push(JSON.stringify({ type: 'window', window, strips })),
      onStrip: (strip) => (strips = [strip]),
      onHold: () => undefined,
      onReference: () => undefined,
    },
  })
  for (let from = 0; from < seconds * RATE_HZ; from += SAMPLES_PER_PACKET) {
    const [x, y, z] = [0, 1, 2].map((c) =>
      Float64Array.from({ length: SAMPLES_PER_PACKET }, (_, i) => truth(0, c, from + i)),
    )
    pipeline.push(from, { x, y, z })
  }
  return texts
}

const viewers = new Map<string, WebSocket>()
const server = new WebSocketServer({ host: '127.0.0.1', port: 0, perMessageDeflate: false })
server.on('connection', (socket, request) => {
  const url = new URL(request.url ?? '', 'http://localhost')
  if (url.pathname === '/api/live/watch') viewers.set(url.searchParams.get('session') ?? '', socket)
  else pass(socket)
})
server.on('listening', () => process.send!({ port: (server.address() as AddressInfo).port }))

function pass(socket: WebSocket): void {
  let session = ''
  let stream = ''
  let packets = 0
  socket.on('message', (data: Buffer, binary) => {
    if (!binary) {
      ;({ session, stream } = JSON.parse(data.toString()))
      const welcome = { type: 'welcome', protocol: 1, stream, nextIndex: 0, serverTimeUs: Date.now() * 1000 }
      return socket.send(JSON.stringify(welcome))
    }
    const nextIndex = data.readDoubleLE(8) + data.readUInt32LE(4)
    socket.send(`{"type":"ack","stream":"${stream}","nextIndex":${nextIndex}}`)
    const text = TEXTS[packets++ % TEXTS.length].slice(0, -1)
    const times = `"sampleArrivedAtUs":${data.readDoubleLE(16)},"serverTimeUs":${Date.now() * 1000}`
    viewers.get(session)?.send(`${text},${times}}`)
  })
}
