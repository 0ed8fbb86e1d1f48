import { Channel } from './channel.ts'
import type { Viewer } from './viewer.ts'

/** The channels of all sessions that someone records or watches. */
export class Hub {
  readonly #channels = new Map<string, Channel>()

  channel(session: string): Channel {
    let channel = this.#channels.get(session)
    if (!channel) this.#channels.set(session, (channel = new Channel()))
    return channel
  }

  /** Whether samples of the session can come now. */
  senderConnected(session: string): boolean {
    return this.#channels.get(session)?.senderConnected ?? false
  }

  leave(session: string, viewer: Viewer): void {
    const channel = this.#channels.get(session)
    channel?.viewers.delete(viewer)
    if (channel && channel.viewers.size === 0 && !channel.picture) this.#channels.delete(session)
  }

  /** The session takes no more samples: says so and forgets it. */
  end(session: string): void {
    const channel = this.#channels.get(session)
    if (!channel) return
    channel.flush()
    for (const viewer of channel.viewers) viewer.end(session)
    this.#channels.delete(session)
  }
}
