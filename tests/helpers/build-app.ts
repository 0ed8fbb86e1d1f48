import { mkdtemp, rm } from 'node:fs/promises'
import type { AddressInfo } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { onTestFinished } from 'vitest'
import { buildApp } from '#server/app'
import type { App } from '#server/app'
import { DEFAULT_LIMITS, loadConfig } from '#server/config'
import type { Config, Limits } from '#server/config'

export type ConfigChanges = Partial<Omit<Config, 'limits'>> & { readonly limits?: Partial<Limits> }

/** A configuration for tests: nothing on disk, nothing in the log unless asked for. */
export function testConfig({ limits, ...changes }: ConfigChanges = {}): Config {
  return {
    ...loadConfig({ env: { SWAYBOOK_DATA: ':memory:', PORT: '0', LOG_LEVEL: 'silent' }, platform: 'linux' }),
    ...changes,
    limits: { ...DEFAULT_LIMITS, commitMs: 5, ackMs: 5, ...limits },
  }
}

/** An app that is not listening, closed when the test ends. */
export async function testApp(changes: ConfigChanges = {}): Promise<App> {
  const app = await buildApp(testConfig(changes))
  onTestFinished(() => app.close())
  await app.ready()
  return app
}

export interface ListeningApp {
  readonly app: App
  readonly url: string
  readonly wsUrl: string
}

/** An app on a free loopback port, closed when the test ends. */
export async function listeningApp(changes: ConfigChanges = {}): Promise<ListeningApp> {
  const app = await testApp(changes)
  await app.listen({ host: '127.0.0.1', port: 0 })
  const { port } = app.server.address() as AddressInfo
  return { app, url: `http://127.0.0.1:${port}`, wsUrl: `ws://127.0.0.1:${port}` }
}

/** A folder that is removed when the test ends. */
export async function temporaryDir(): Promise<string> {
  const dir = await mkdtemp(join(tmpdir(), 'swaybook-test-'))
  onTestFinished(() => rm(dir, { recursive: true, force: true }))
  return dir
}

/** `app.inject` with the Host the app answers to. */
export function call(
  app: App,
  options: {
    method?: 'GET' | 'POST' | 'PUT' | 'PATCH' | 'DELETE'
    url: string
    payload?: object
    headers?: Record<string, string>
  },
) {
  return app.inject({ ...options, headers: { ...options.headers, host: hostOf(app) } })
}

/** The Host that a request to the app names, listening or not. */
export function hostOf(app: App): string {
  const address = app.server.address() as AddressInfo | null
  return `localhost:${address?.port ?? 80}`
}

export async function addDog(app: App, name = 'Juniper'): Promise<string> {
  return (await call(app, { method: 'POST', url: '/api/dogs', payload: { name } })).json<{ id: string }>().id
}

export async function addLiveSession(app: App, dogId?: string): Promise<string> {
  const payload = { dogId: dogId ?? (await addDog(app)), sensor: 'simulated harness' }
  return (await call(app, { method: 'POST', url: '/api/sessions', payload })).json<{ id: string }>().id
}
