import { answerAsset, answerPage, answerRecord } from './answers'
import { policyOf } from './request-policy'

/** Filled in by the build: everything the dashboard consists of, and a name for this version of it. */
declare const __SHELL__: { version: string; files: readonly string[] }

/** The part of ServiceWorkerGlobalScope used here; the dashboard is typed for windows. */
interface WorkerScope {
  addEventListener(type: 'install' | 'activate', listener: (event: Extendable) => void): void
  addEventListener(type: 'fetch', listener: (event: FetchAsked) => void): void
  addEventListener(type: 'message', listener: (event: Extendable & { data: unknown }) => void): void
  skipWaiting(): Promise<void>
  readonly clients: { claim(): Promise<void> }
  readonly location: { readonly origin: string }
}
interface Extendable {
  waitUntil(work: Promise<unknown>): void
}
interface FetchAsked extends Extendable {
  readonly request: Request
  respondWith(answer: Promise<Response>): void
}

/** What a page says to its service worker. */
export type PageMessage =
  | { type: 'activate' }
  | { type: 'keep'; urls: readonly string[] }
  /** Somebody else uses this browser now: what is under way is not kept. */
  | { type: 'forget' }

const scope = self as unknown as WorkerScope
const SHELL_PREFIX = 'swaybook-shell-'
const RECORDS = 'swaybook-records-1'
/** This version and the one before: a page of the older one may still load its later screens. */
const SHELLS_KEPT = 2

const { version, files } = __SHELL__
let deletions = 0
const keeping = {
  fetch: (input: RequestInfo | URL) => fetch(input),
  caches,
  now: () => new Date(),
  deletions: () => deletions,
}

async function install() {
  const cache = await caches.open(SHELL_PREFIX + version)
  // Past the browser's own cache: the page there may be an older one.
  await cache.addAll(files.map((file) => new Request(file, { cache: 'no-cache' })))
}

async function forgetOldShells() {
  const shells = (await caches.keys()).filter((name) => name.startsWith(SHELL_PREFIX))
  // In the order in which they were made.
  await Promise.all(shells.slice(0, -SHELLS_KEPT).map((name) => caches.delete(name)))
}

/** What a page loaded before there was a service worker to keep it. */
async function keepRecords(urls: readonly string[]) {
  const requests = [...new Set(urls)].map((url) => new Request(url))
  const records = requests.filter((request) => policyOf(request, scope.location.origin, files) === 'record')
  await Promise.allSettled(records.map((request) => answerRecord(request, RECORDS, keeping)))
}

async function deleted(request: Request): Promise<Response> {
  const response = await fetch(request)
  deletions++
  if (response.ok) await caches.delete(RECORDS)
  return response
}

async function forgetRecords() {
  deletions++
  await caches.delete(RECORDS)
}

scope.addEventListener('install', (event) => event.waitUntil(install()))
scope.addEventListener('activate', (event) => {
  event.waitUntil(forgetOldShells().then(() => scope.clients.claim()))
})
scope.addEventListener('message', (event) => {
  const message = event.data as PageMessage
  // A newer version waits until a page says that nothing is being recorded.
  if (message.type === 'activate') event.waitUntil(scope.skipWaiting())
  else if (message.type === 'keep') event.waitUntil(keepRecords(message.urls))
  else if (message.type === 'forget') event.waitUntil(forgetRecords())
})
scope.addEventListener('fetch', (event) => {
  const { request } = event
  switch (policyOf(request, scope.location.origin, files)) {
    case 'page':
      return event.respondWith(answerPage(request, keeping))
    case 'asset':
      return event.respondWith(answerAsset(request, keeping))
    case 'record':
      return event.respondWith(answerRecord(request, RECORDS, keeping))
    case 'delete':
      return event.respondWith(deleted(request))
    case 'none':
  }
})
