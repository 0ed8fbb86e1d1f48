import type { ServerToViewer, ViewerMessage } from '#protocol/messages'
import { endsBySigningIn, ReconnectingSocket } from './socket'
import type { SocketOptions, SocketStatus } from './socket'

export interface LiveLinkHandlers {
  /** Messages can be sent (again); a snapshot follows. */
  onOpen(): void
  onMessage(message: ServerToViewer): void
  onStatus(status: SocketStatus): void
  /** There will be no session to see; `message` says why. */
  onRefused(message: string): void
}

/** Where the messages of a live session come from: the server, or the recorder of this browser. */
export interface LiveLink {
  /** True for the recorder of this browser, which needs no network. */
  readonly local: boolean
  /** Begins to deliver; called once. */
  open(handlers: LiveLinkHandlers): void
  /** False when not connected: the caller keeps what must not be lost and sends it after `onOpen`. */
  send(message: ViewerMessage): boolean
  /** Tries at once instead of waiting; does nothing while connected. */
  retryNow(): void
  close(): void
}

/** A session as the server tells it to every viewer; `url` is the address of /api/live/watch. */
export function remoteLink(url: string, options: SocketOptions = {}): LiveLink {
  let socket: ReconnectingSocket | null = null
  return {
    local: false,
    open(handlers) {
      let lastError: { code: string; message: string } | null = null
      socket = new ReconnectingSocket(
        url,
        {
          onOpen: () => {
            lastError = null
            handlers.onOpen()
          },
          onMessage: (data) => {
            const message = data as ServerToViewer
            if (message.type === 'error') lastError = message
            handlers.onMessage(message)
          },
          onStatus: handlers.onStatus,
          isPassing: (reason) => endsBySigningIn(reason) || endsBySigningIn(lastError?.code),
          onRefused: (_code, reason) => handlers.onRefused(lastError?.message ?? reason),
        },
        options,
      )
      socket.connect()
    },
    send: (message) => socket?.send(message) ?? false,
    retryNow: () => socket?.retryNow(),
    close: () => socket?.close(),
  }
}
