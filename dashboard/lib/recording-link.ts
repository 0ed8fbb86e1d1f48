import type { LiveLink } from './live-link'
import type { Recording } from './recording.svelte'

/** The session this browser records, as its own recorder sees it: works without a network. */
export function recordingLink(recording: Recording): LiveLink {
  let removeViewer = () => {}
  return {
    local: true,
    open(handlers) {
      removeViewer = recording.watch(handlers.onMessage)
      handlers.onStatus('open')
      handlers.onOpen()
    },
    send(message) {
      if (message.type === 'mark') recording.addMark(message)
      return true
    },
    retryNow: () => recording.retryNow(),
    close: () => removeViewer(),
  }
}
