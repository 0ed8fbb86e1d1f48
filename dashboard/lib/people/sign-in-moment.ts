/** What tabs of this browser tell each other. */
type Said = 'signed in' | 'signed out'

const CHANNEL = 'swaybook-sign-in'
const SIGNED_IN = 'swaybook-signed-in'

/** Calls back when somebody signed in, in this tab or another: what was refused is worth another try. */
export function onSignedIn(retry: () => void): () => void {
  window.addEventListener(SIGNED_IN, retry)
  return () => window.removeEventListener(SIGNED_IN, retry)
}

/** Within this tab. */
export function tellSignedIn(): void {
  window.dispatchEvent(new Event(SIGNED_IN))
}

/** One for speaking and hearing: what a tab says by it does not come back to itself. */
let channel: BroadcastChannel | null = null

function openChannel(): BroadcastChannel | null {
  // Tabs of a browser without it find out with their next call.
  if (!('BroadcastChannel' in window)) return null
  return (channel ??= new BroadcastChannel(CHANNEL))
}

export function tellOtherTabs(said: Said): void {
  openChannel()?.postMessage(said)
}

/** Listens to the other tabs; returns the remover. */
export function hearOtherTabs(hear: (said: Said) => void): () => void {
  const opened = openChannel()
  const onMessage = ({ data }: MessageEvent<Said>) => hear(data)
  opened?.addEventListener('message', onMessage)
  return () => opened?.removeEventListener('message', onMessage)
}
