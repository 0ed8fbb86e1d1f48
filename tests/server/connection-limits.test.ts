import { once } from 'node:events'
import { describe, expect, it } from 'vitest'
import { addDog, addLiveSession, listeningApp, testApp } from '../helpers/build-app.ts'
import type { ConfigChanges } from '../helpers/build-app.ts'
import { LiveClient, welcomedSender, frame } from '../helpers/live-client.ts'
import { rawSocket } from '../helpers/raw-socket.ts'

/** As with TLS, but for the encryption: what counts here is who is beyond this computer. */
const OPEN: ConfigChanges = { exposure: 'tls', publicOrigins: ['https://dogs.example'] }
const PROXIED: ConfigChanges = { ...OPEN, exposure: 'proxy', proxyAddresses: ['loopback'] }

const passedOn = (client: string) => ({
  host: 'dogs.example',
  'x-forwarded-for': client,
  'x-forwarded-proto': 'https',
})

describe('a client that dawdles', () => {
  it('over its headers, or says nothing at all, is cut off', async () => {
    const { url } = await listeningApp({ limits: { headersMs: 200 } })
    const dawdling = await rawSocket(url, 'GET /api/health HTTP/1.1\r\nHost: x\r\nX-Slow: ')
    const silent = await rawSocket(url)
    expect(await dawdling.closed).toMatch(/^HTTP\/1\.1 408 /)
    await silent.closed
  })

  it('over its body is cut off after the time of its route, and stores nothing', async () => {
    const { app, url } = await listeningApp({ limits: { bodyMs: 200 } })
    const host = new URL(url).host
    const head = `POST /api/dogs HTTP/1.1\r\nHost: ${host}\r\nContent-Type: application/json\r\n`
    const counted = await rawSocket(url, `${head}Content-Length: 100\r\n\r\n{"name":`)
    const chunked = await rawSocket(url, `${head}Transfer-Encoding: chunked\r\n\r\n8\r\n{"name":\r\n`)
    expect(await counted.closed).toMatch(/^HTTP\/1\.1 408 /)
    expect(await chunked.closed).toMatch(/^HTTP\/1\.1 408 /)
    expect(await app.store.records.dogs()).toEqual([])
  })

  it('over an upload has longer, and is cut off then', async () => {
    const { app, url } = await listeningApp({ limits: { bodyMs: 50, uploadReceiveMs: 400 } })
    const path = `/api/dogs/${await addDog(app)}/traces`
    const began = performance.now()
    const { closed } = await rawSocket(
      url,
      `POST ${path} HTTP/1.1\r\nHost: ${new URL(url).host}\r\nContent-Length: 1000\r\n` +
        'Content-Type: multipart/form-data; boundary=b\r\n\r\n--b\r\n',
    )
    expect(await closed).toMatch(/^HTTP\/1\.1 408 /)
    expect(performance.now() - began).toBeGreaterThan(350)
  })

  it('does not keep others waiting, be it a hundred of them', async () => {
    const { app, wsUrl, url } = await listeningApp()
    const { sender } = await welcomedSender(wsUrl, await addLiveSession(app))
    await Promise.all(Array.from({ length: 100 }, () => rawSocket(url, 'GET / HTTP/1.1\r\nX-Slow: ')))
    sender.socket.send(frame(0, 10))
    expect(await sender.next('ack')).toMatchObject({ nextIndex: 10 })
    expect((await fetch(`${url}/api/health`)).status).toBe(200)
  })

  it('with headers beyond 16 KiB, or more of them than anybody sends, is refused', async () => {
    const { url } = await listeningApp()
    const host = new URL(url).host
    const long = await rawSocket(url, `GET / HTTP/1.1\r\nHost: ${host}\r\nX: ${'x'.repeat(17_000)}\r\n\r\n`)
    expect(await long.closed).toMatch(/^HTTP\/1\.1 431 /)
    const endless = await rawSocket(url, `GET /${'x'.repeat(20_000)} HTTP/1.1\r\n\r\n`)
    expect(await endless.closed).toMatch(/^HTTP\/1\.1 (431|414|400) /)
  })
})

describe('requests that two parsers may read differently', () => {
  // RFC 9112 §6.3 and §11.2: request smuggling.
  it.each([
    ['two lengths', 'Content-Length: 2\r\nContent-Length: 3\r\n\r\n{}x'],
    ['a length beside chunks', 'Content-Length: 2\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n'],
    ['an unknown coding', 'Transfer-Encoding: chunked, gzip\r\n\r\n0\r\n\r\n'],
    ['a space before the colon', 'Content-Length : 2\r\n\r\n{}'],
    ['a bare line feed in a header', 'X-A: b\nX-C: d\r\rContent-Length: 2\r\n\r\n{}'],
    ['a sign in the length', 'Content-Length: +2\r\n\r\n{}'],
  ])('with %s are refused', async (_, rest) => {
    const { app, url } = await listeningApp()
    const head = `POST /api/dogs HTTP/1.1\r\nHost: ${new URL(url).host}\r\nContent-Type: application/json\r\n`
    const { closed } = await rawSocket(url, head + rest)
    expect(await closed).toMatch(/^HTTP\/1\.1 400 /)
    expect(await app.store.records.dogs()).toEqual([])
  })
})

describe('nobody takes all connections', () => {
  it('beyond this computer one address has so many; what it closes it may open again', async () => {
    const { url } = await listeningApp({ ...OPEN, limits: { connectionsPerAddress: 3 } })
    const held = await Promise.all([1, 2, 3].map(() => rawSocket(url)))
    // Accepted by the system, closed by the server before it reads.
    expect(await (await rawSocket(url, 'GET / HTTP/1.1\r\n\r\n')).closed).toBe('')
    held[0].socket.destroy()
    await held[0].closed
    await expect
      .poll(async () => {
        const next = await rawSocket(
          url,
          'GET /api/me HTTP/1.1\r\nHost: dogs.example\r\nConnection: close\r\n\r\n',
        )
        return next.closed
      })
      .toMatch(/^HTTP\/1\.1 200 /)
  })

  it('all together have so many', async () => {
    const { app, url } = await listeningApp({ limits: { connections: 2 } })
    const dropped = once(app.server, 'drop')
    await Promise.all([1, 2, 3].map(() => rawSocket(url)))
    await dropped
  })

  it('one client has so many live sockets, counted behind a proxy for the client it names', async () => {
    const { wsUrl } = await listeningApp({ ...PROXIED, limits: { socketsEach: 2 } })
    const open = (client: string) =>
      new LiveClient(`${wsUrl}/api/live/send`, { headers: passedOn(client) }).opened()
    const [first] = await Promise.all([open('203.0.113.7'), open('203.0.113.7')])
    await expect(open('203.0.113.7')).rejects.toThrow('429')
    await expect(open('127.0.0.1, 203.0.113.7')).rejects.toThrow('429')
    await open('203.0.113.8')
    first.socket.close()
    await first.closed
    await expect.poll(() => open('203.0.113.7').then(() => 'opened', String)).toBe('opened')
  })
})

describe('rates', () => {
  const statuses = async (count: number, ask: () => Promise<{ statusCode: number }>) => {
    const seen: number[] = []
    for (let k = 0; k < count; k++) seen.push((await ask()).statusCode)
    return seen
  }

  it('of addresses nothing lies at are bounded, and pages still open', async () => {
    const app = await testApp({ limits: { unknownPerMinute: 3 } })
    const paths = ['/.git/config', '/wp-login.php', '/api/none', '/.env', '/api/none?x=2']
    let k = 0
    expect(await statuses(5, () => app.inject(paths[k++]))).toEqual([404, 404, 404, 429, 429])
    expect((await app.inject('/api/dogs')).statusCode).toBe(200)
  })

  it('of files for downloads, uploads and imports are bounded by their own, per client', async () => {
    // Nobody of them is signed in: whoever is refused is counted too.
    const limits = { exportsPerMinute: 2, uploadsPerMinute: 2, importsPerMinute: 2 }
    const app = await testApp({ ...PROXIED, limits })
    const from = (client: string, url: string, method: 'GET' | 'POST') => () =>
      app.inject({ method, url, headers: passedOn(client) })
    for (const [method, url] of [
      ['GET', '/api/dogs/none/export.zip'],
      ['GET', '/api/dogs/none/fhir.json'],
      ['GET', '/api/sessions/none/trace.csv'],
      ['GET', '/api/sessions/none/trace.edf'],
      ['POST', '/api/dogs/none/traces'],
      ['POST', '/api/imports'],
    ] as const) {
      expect([url, ...(await statuses(3, from('203.0.113.7', url, method)))]).toEqual([url, 401, 401, 429])
      expect((await from('203.0.113.8', url, method)()).statusCode, url).toBe(401)
    }
  })

  it('what says when to come back', async () => {
    const app = await testApp({ limits: { requestsPerMinute: 1 } })
    await app.inject('/api/health')
    const { headers } = await app.inject('/api/health')
    expect(Number(headers['retry-after'])).toBeGreaterThan(0)
  })
})
