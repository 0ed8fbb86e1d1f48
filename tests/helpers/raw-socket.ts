import { once } from 'node:events'
import { connect } from 'node:net'
import type { Socket } from 'node:net'
import { onTestFinished } from 'vitest'

/** A TCP connection that speaks byte by byte, with everything it was answered. */
export interface RawSocket {
  readonly socket: Socket
  readonly answer: () => string
  /** Resolves with the whole answer when the other side has closed. */
  readonly closed: Promise<string>
}

export async function rawSocket(url: string, text = ''): Promise<RawSocket> {
  const { hostname, port } = new URL(url)
  const socket = connect(Number(port), hostname)
  onTestFinished(() => void socket.destroy())
  let answer = ''
  socket.on('data', (data) => (answer += data.toString('latin1')))
  // A reset is an end too: it shows as the close that follows.
  socket.on('error', () => undefined)
  const closed = new Promise<string>((resolve) => socket.once('close', () => resolve(answer)))
  await Promise.race([once(socket, 'connect'), closed])
  socket.write(text)
  return { socket, answer: () => answer, closed }
}
