import { describe, expect, it } from 'vitest'
import { listeningApp, testApp } from '../helpers/build-app.ts'
import type { ConfigChanges } from '../helpers/build-app.ts'
import { LiveClient } from '../helpers/live-client.ts'

const PROXIED: ConfigChanges = {
  exposure: 'proxy',
  publicOrigins: ['https://dogs.example'],
  proxyAddresses: ['loopback'],
}
/** As a proxy on this machine passes a request on. */
const PASSED_ON = {
  host: 'dogs.example',
  'x-forwarded-for': '203.0.113.7',
  'x-forwarded-proto': 'https',
}

describe('without --behind-proxy', () => {
  it.each(['forwarded', 'x-forwarded-for', 'x-forwarded-host', 'x-forwarded-proto', 'x-real-ip'])(
    'a request with %s is refused: somebody put a proxy in front',
    async (header) => {
      const app = await testApp()
      const answer = await app.inject({ url: '/api/me', headers: { [header]: 'x' } })
      expect(answer.statusCode).toBe(403)
      expect(answer.json()).toMatchObject({ code: 'PROXY_NOT_TOLD' })
      expect(answer.json().detail).toContain('--behind-proxy')
    },
  )
})

describe('behind a proxy', () => {
  const asked = async (
    headers: Record<string, string>,
    remoteAddress = '127.0.0.1',
    changes: ConfigChanges = {},
  ) => {
    const app = await testApp({ ...PROXIED, ...changes })
    return app.inject({ url: '/api/me', headers, remoteAddress })
  }

  it('what the proxy passes on is answered, with HTTPS promised and wss in the policy', async () => {
    const { statusCode, headers } = await asked(PASSED_ON)
    expect(statusCode).toBe(200)
    expect(headers['strict-transport-security']).toMatch(/^max-age=31536000/)
    expect(headers['content-security-policy']).toContain('wss://dogs.example;')
  })

  it('the name people asked for may come as Host or as X-Forwarded-Host', async () => {
    const inside = { ...PASSED_ON, host: '127.0.0.1:4173' }
    expect((await asked(inside)).json()).toMatchObject({ code: 'HOST_REFUSED' })
    const named = await asked({ ...inside, 'x-forwarded-host': 'dogs.example' })
    expect(named.statusCode).toBe(200)
    expect(named.headers['content-security-policy']).toContain('wss://dogs.example;')
    const other = { ...PASSED_ON, 'x-forwarded-host': 'evil.example' }
    expect((await asked(other)).json()).toMatchObject({ code: 'HOST_REFUSED' })
    // The nearest proxy's word counts, not what a client sent it.
    const added = { ...inside, 'x-forwarded-host': 'dogs.example, evil.example' }
    expect((await asked(added)).json()).toMatchObject({ code: 'HOST_REFUSED' })
  })

  it('a client that came by plain HTTP is refused', async () => {
    for (const proto of ['http', 'https, http', 'wss', '']) {
      const answer = await asked({ ...PASSED_ON, 'x-forwarded-proto': proto })
      expect([proto, answer.statusCode, answer.json().code]).toEqual([proto, 403, 'PROXY_HEADERS'])
    }
    expect((await asked({ ...PASSED_ON, 'x-forwarded-proto': 'http, https' })).statusCode).toBe(200)
  })

  it('a proxy that does not say who called, or proto or host alone, is refused', async () => {
    for (const left of ['x-forwarded-for', 'x-forwarded-proto']) {
      const rest = Object.fromEntries(Object.entries(PASSED_ON).filter(([name]) => name !== left))
      expect([left, (await asked(rest)).json().code]).toEqual([left, 'PROXY_HEADERS'])
    }
    const strange = await asked({ ...PASSED_ON, 'x-forwarded-for': 'unknown' })
    expect(strange.json()).toMatchObject({ code: 'PROXY_HEADERS' })
  })

  it('whoever calls past the proxy is refused, also with its headers', async () => {
    const answer = await asked(PASSED_ON, '192.168.1.50')
    expect(answer.json()).toMatchObject({ code: 'PROXY_BYPASSED', status: 403 })
    expect(answer.json().detail).toContain('192.168.1.50')
    // A range is trusted only when it is named.
    expect((await asked(PASSED_ON, '172.18.0.1')).statusCode).toBe(403)
    const named = { proxyAddresses: ['172.18.0.1'] }
    expect((await asked(PASSED_ON, '172.18.0.1', named)).statusCode).toBe(200)
    expect((await asked(PASSED_ON, '127.0.0.1', named)).statusCode).toBe(403)
  })

  it('health is answered past the proxy under a loopback name, and nothing else is', async () => {
    const app = await testApp(PROXIED)
    const direct = { host: 'localhost:80' }
    expect((await app.inject({ url: '/api/health', headers: direct })).statusCode).toBe(200)
    expect((await app.inject({ url: '/api/me', headers: direct })).json()).toMatchObject({
      code: 'PROXY_HEADERS',
    })
    const foreign = { url: '/api/health', headers: { host: 'evil.example' } }
    expect((await app.inject(foreign)).statusCode).toBe(403)
  })

  it('limits count the client that the proxy names, whatever the client claims to be', async () => {
    const app = await testApp({ ...PROXIED, limits: { requestsPerMinute: 2 } })
    const from = async (forwarded: string) =>
      (await app.inject({ url: '/api/me', headers: { ...PASSED_ON, 'x-forwarded-for': forwarded } }))
        .statusCode
    expect(await from('203.0.113.7')).toBe(200)
    expect(await from('198.51.100.1, 203.0.113.7')).toBe(200)
    expect(await from('127.0.0.1, 203.0.113.7')).toBe(429)
    expect(await from('203.0.113.8')).toBe(200)
  })

  it('a WebSocket needs the same: the proxy, its headers, an origin of ours', async () => {
    const { wsUrl } = await listeningApp(PROXIED)
    const open = (headers: Record<string, string>) =>
      new LiveClient(`${wsUrl}/api/live/send`, { headers }).opened()
    await expect(open({})).rejects.toThrow('403')
    await expect(open({ ...PASSED_ON, 'x-forwarded-proto': 'http' })).rejects.toThrow('403')
    await expect(open({ ...PASSED_ON, origin: 'https://evil.example' })).rejects.toThrow('403')
    await expect(open({ ...PASSED_ON, origin: 'http://dogs.example' })).rejects.toThrow('403')
    await open({ ...PASSED_ON, origin: 'https://dogs.example' })
  })
})
