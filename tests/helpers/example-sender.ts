import { setTimeout as sleep } from 'node:timers/promises'
import { WebSocket } from 'ws'
import { encodeFrame } from '#protocol/frames'
import type { SampleFrame } from '#protocol/frames'
import type { Hello, ServerToSender } from '#protocol/messages'

/**
 * A sender of the live protocol, as small as it can be and still lose nothing: a pattern for bridges of
 * other sensors. It keeps every frame until it is acknowledged, and whatever happens to the connection or
 * to the server it comes back and goes on from the index that `welcome` names.
 */

/** After these closes trying again would fail again. */
const REFUSED = [1007, 1008, 1009, 4409]

export interface ExampleRecording {
  /** `ws://…/api/live/send` */
  readonly url: string
  readonly hello: Hello
  /** In order of index and without a hole: what the sensor never delivered is a lost frame. */
  readonly frames: readonly SampleFrame[]
  /** Pause between frames, ms: a sensor takes its time. */
  readonly paceMs: number
  /** Everything below is on the server's disk; a bridge would forget it now. */
  acknowledged(nextIndex: number): void
}

/** Sends all of it; resolves when the server has confirmed the end. */
export async function sendRecording(recording: ExampleRecording): Promise<void> {
  for (let waitMs = 100; ; waitMs = Math.min(2 * waitMs, 5000)) {
    const close = await oneConnection(recording)
    if (close === 'finished') return
    if (REFUSED.includes(close)) throw new Error(`the server refused the stream with ${close}`)
    // Up to the whole wait at random, so that many senders do not come back at once.
    await sleep(Math.random() * waitMs)
  }
}

/** Gives the close code when the connection ended before the recording did. */
function oneConnection({ url, hello, frames, paceMs, acknowledged }: ExampleRecording) {
  return new Promise<number | 'finished'>((resolve) => {
    const socket = new WebSocket(url, { perMessageDeflate: false })
    const say = (message: object) => socket.send(JSON.stringify(message))

    const sendFrom = async (nextIndex: number) => {
      for (const frame of frames) {
        // The server has these; one it has in part it takes the rest of.
        if (frame.firstIndex + frame.count <= nextIndex) continue
        if (socket.readyState !== WebSocket.OPEN) return
        socket.send(encodeFrame(frame))
        await sleep(paceMs)
      }
      const last = frames[frames.length - 1]
      if (socket.readyState === WebSocket.OPEN) {
        say({ type: 'finish', stream: hello.stream, nextIndex: last.firstIndex + last.count })
      }
    }

    socket.on('open', () => say(hello))
    socket.on('message', (data) => {
      const message = JSON.parse(data.toString()) as ServerToSender
      // Types that are not known are none of ours: ignored.
      if (message.type === 'welcome') void sendFrom(message.nextIndex)
      if (message.type === 'welcome' || message.type === 'ack') acknowledged(message.nextIndex)
      if (message.type === 'finished') {
        resolve('finished')
        socket.close()
      }
    })
    // Every failure is followed by a close.
    socket.on('error', () => undefined)
    socket.on('close', (code) => resolve(code))
  })
}
