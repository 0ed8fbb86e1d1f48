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

export function tellOtherTabs(said: Said): void {
  // Tabs of a browser without it find out with their next call.
  if (!('BroadcastChannel' in window)) return
  const channel = new BroadcastChannel(CHANNEL)
  channel.postMessage(said)
  channel.close()
}

/** Listens to the other tabs; returns the remover. */
export function hearOtherTabs(hear: (said: Said) => void): () => void {
  if (!('BroadcastChannel' in window)) return () => {}
  const channel = new BroadcastChannel(CHANNEL)
  channel.onmessage = ({ data }: MessageEvent<Said>) => hear(data)
  return () => channel.close()
}
