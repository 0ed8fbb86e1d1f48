import type { ServerToViewer } from '#protocol/messages'

/** The part of a WebSocket that fan-out needs. */
export interface ViewerSocket {
  readonly bufferedAmount: number
  send(text: string): void
  close(code: number, reason: string): void
}

/**
 * One watching screen. While it has too much unsent it gets nothing; once it has caught up it gets
 * the session so far, so what waits for it is bounded and nothing it missed stays missed.
 */
export class Viewer {
  readonly #socket: ViewerSocket
  readonly #maxBufferedBytes: number
  #behind = false

  constructor(socket: ViewerSocket, maxBufferedBytes: number) {
    this.#socket = socket
    this.#maxBufferedBytes = maxBufferedBytes
  }

  /** @param text the message, serialised once for all viewers */
  send(text: string, snapshot: () => string | null): void {
    if (this.#socket.bufferedAmount > this.#maxBufferedBytes) {
      this.#behind = true
    } else if (this.#behind) {
      this.#behind = false
      this.#socket.send(snapshot() ?? text)
    } else {
      this.#socket.send(text)
    }
  }

  end(session: string): void {
    this.tell({ type: 'ended', session })
    this.#socket.close(1000, 'the session has ended')
  }

  /** For answers to this viewer alone, whatever waits for it. */
  tell(message: ServerToViewer): void {
    this.#socket.send(JSON.stringify(message))
  }
}
