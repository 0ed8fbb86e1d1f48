/** The screens and their addresses. */
export type Route =
  | { name: 'home' }
  | { name: 'dog'; dogId: string }
  | { name: 'add-traces'; dogId: string }
  | { name: 'record'; dogId: string }
  | { name: 'plan'; dogId: string }
  | { name: 'session'; sessionId: string }
  | { name: 'live'; sessionId: string }
  | { name: 'numbers' }
  | { name: 'layouts' }
  | { name: 'phone' }
  | { name: 'not-found'; path: string }

export const paths = {
  home: '/',
  dog: (dogId: string) => `/dogs/${encodeURIComponent(dogId)}`,
  addTraces: (dogId: string) => `/dogs/${encodeURIComponent(dogId)}/traces`,
  record: (dogId: string) => `/dogs/${encodeURIComponent(dogId)}/record`,
  plan: (dogId: string) => `/dogs/${encodeURIComponent(dogId)}/plan`,
  session: (sessionId: string) => `/sessions/${encodeURIComponent(sessionId)}`,
  live: (sessionId: string) => `/live/${encodeURIComponent(sessionId)}`,
  /** What the numbers mean; `measure` is the anchor of one of them. */
  numbers: (measure?: string) => (measure ? `/numbers#${measure}` : '/numbers'),
  /** How Bluetooth sensors pack their samples. */
  layouts: '/layouts',
}

/** The screen an address names; a trailing slash does not matter. */
export function routeOf(path: string): Route {
  const parts = path.split('/').filter(Boolean)
  let words: string[]
  try {
    words = parts.map(decodeURIComponent)
  } catch {
    // A lone % is no valid escape: no screen has such an address.
    return { name: 'not-found', path }
  }
  if (words.length === 0) return { name: 'home' }
  if (words[0] === 'dogs' && words.length === 2) return { name: 'dog', dogId: words[1] }
  if (words[0] === 'dogs' && words[2] === 'traces' && words.length === 3) {
    return { name: 'add-traces', dogId: words[1] }
  }
  if (words[0] === 'dogs' && words[2] === 'record' && words.length === 3) {
    return { name: 'record', dogId: words[1] }
  }
  if (words[0] === 'dogs' && words[2] === 'plan' && words.length === 3) {
    return { name: 'plan', dogId: words[1] }
  }
  if (words[0] === 'sessions' && words.length === 2) return { name: 'session', sessionId: words[1] }
  if (words[0] === 'live' && words.length === 2) return { name: 'live', sessionId: words[1] }
  if (words[0] === 'numbers' && words.length === 1) return { name: 'numbers' }
  if (words[0] === 'layouts' && words.length === 1) return { name: 'layouts' }
  if (words[0] === 'phone' && words.length === 1) return { name: 'phone' }
  return { name: 'not-found', path }
}
