import type { SocketLike } from '../../../dashboard/lib/socket.ts'

/** A WebSocket under the test's control; `sent` holds parsed text messages and raw frames. */
export class FakeSocket implements SocketLike {
  binaryType = ''
  bufferedAmount = 0
  onopen: (() => void) | null = null
  onmessage: ((event: { data: unknown }) => void) | null = null
  onclose: ((event: { code: number; reason: string }) => void) | null = null
  onerror: (() => void) | null = null
  readonly sent: unknown[] = []
  closedWith: number | null = null

  send(data: string | Uint8Array<ArrayBuffer>) {
    this.sent.push(typeof data === 'string' ? JSON.parse(data) : data)
  }

  close(code?: number) {
    this.closedWith = code ?? 1005
  }

  open() {
    this.onopen?.()
  }

  receive(message: object) {
    this.onmessage?.({ data: JSON.stringify(message) })
  }

  lose(code = 1006, reason = '') {
    this.onclose?.({ code, reason })
  }
}

/** Hands out fake sockets in the order they are asked for. */
export function fakeSockets() {
  const sockets: FakeSocket[] = []
  return {
    sockets,
    create: () => {
      const socket = new FakeSocket()
      sockets.push(socket)
      return socket
    },
    get newest() {
      return sockets[sockets.length - 1]
    },
  }
}
