/** The screens and their addresses. */
export type Route =
  | { name: 'home' }
  | { name: 'dog'; dogId: string }
  | { name: 'add-traces'; dogId: string }
  | { name: 'record'; dogId: string }
  | { name: 'plan'; dogId: string }
  | { name: 'trends'; dogId: string }
  | { name: 'diary'; dogId: string }
  | { name: 'report'; dogId: string }
  | { name: 'dog-people'; dogId: string }
  /** The first way of a new dog; without a dog its first step. */
  | { name: 'set-up'; dogId: string | null; step: SetUpStep }
  | { name: 'session'; sessionId: string }
  | { name: 'live'; sessionId: string }
  | { name: 'numbers' }
  | { name: 'layouts' }
  | { name: 'settings' }
  | { name: 'phone' }
  | { name: 'sign-in' }
  /** The own name, password and sign-ins. */
  | { name: 'account' }
  /** Everybody with an account here. */
  | { name: 'people' }
  | { name: 'join' }
  | { name: 'shared' }
  | { name: 'not-found'; path: string }

export const SET_UP_STEPS = ['dog', 'plan', 'sensor', 'ready'] as const
export type SetUpStep = (typeof SET_UP_STEPS)[number]

/** Screens of a dog that carry nothing but the dog in their address. */
const OF_A_DOG = {
  traces: 'add-traces',
  record: 'record',
  plan: 'plan',
  trends: 'trends',
  diary: 'diary',
  report: 'report',
  people: 'dog-people',
} as const

/** Screens with an address of one word. */
const OF_ONE_WORD = [
  'numbers',
  'layouts',
  'settings',
  'phone',
  'sign-in',
  'account',
  'people',
  'join',
  'shared',
] as const

/** Screens that need nobody to be signed in. */
export const OPEN_TO_ALL: readonly Route['name'][] = [
  'numbers',
  'layouts',
  'phone',
  'join',
  'shared',
  'not-found',
]

export const paths = {
  home: '/',
  dog: (dogId: string) => `/dogs/${encodeURIComponent(dogId)}`,
  addTraces: (dogId: string) => `/dogs/${encodeURIComponent(dogId)}/traces`,
  record: (dogId: string) => `/dogs/${encodeURIComponent(dogId)}/record`,
  plan: (dogId: string) => `/dogs/${encodeURIComponent(dogId)}/plan`,
  trends: (dogId: string) => `/dogs/${encodeURIComponent(dogId)}/trends`,
  diary: (dogId: string) => `/dogs/${encodeURIComponent(dogId)}/diary`,
  report: (dogId: string) => `/dogs/${encodeURIComponent(dogId)}/report`,
  dogPeople: (dogId: string) => `/dogs/${encodeURIComponent(dogId)}/people`,
  /** The steps a new dog is set up in; the first one makes the dog. */
  setUp: '/set-up',
  setUpStep: (dogId: string, step: SetUpStep) => `/set-up/${encodeURIComponent(dogId)}/${step}`,
  session: (sessionId: string) => `/sessions/${encodeURIComponent(sessionId)}`,
  live: (sessionId: string) => `/live/${encodeURIComponent(sessionId)}`,
  /** What the numbers mean; `measure` is the anchor of one of them. */
  numbers: (measure?: string) => (measure ? `/numbers#${measure}` : '/numbers'),
  /** How Bluetooth sensors pack their samples. */
  layouts: '/layouts',
  settings: '/settings',
  signIn: '/sign-in',
  account: '/account',
  people: '/people',
  join: '/join',
  shared: '/shared',
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
  if (words[0] === 'dogs' && words.length === 3 && Object.hasOwn(OF_A_DOG, words[2])) {
    return { name: OF_A_DOG[words[2] as keyof typeof OF_A_DOG], dogId: words[1] }
  }
  if (words[0] === 'set-up' && words.length === 1) return { name: 'set-up', dogId: null, step: 'dog' }
  if (words[0] === 'set-up' && words.length === 3) {
    const step = SET_UP_STEPS.find((name) => name === words[2])
    if (step) return { name: 'set-up', dogId: words[1], step }
  }
  if (words[0] === 'sessions' && words.length === 2) return { name: 'session', sessionId: words[1] }
  if (words[0] === 'live' && words.length === 2) return { name: 'live', sessionId: words[1] }
  const alone = OF_ONE_WORD.find((name) => name === words[0] && words.length === 1)
  return alone ? { name: alone } : { name: 'not-found', path }
}
