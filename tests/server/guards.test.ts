import { describe, expect, it } from 'vitest'
import { isLoopbackHost } from '#server/exposure/own-address'
import { addLiveSession, listeningApp, testApp } from '../helpers/build-app.ts'
import { helloMessage, LiveClient, welcomedSender } from '../helpers/live-client.ts'

describe('isLoopbackHost', () => {
  it.each(['localhost:4173', '127.0.0.1:4173', '[::1]:4173', 'LOCALHOST:4173'])('knows %s', (host) => {
    expect(isLoopbackHost(host, 4173)).toBe(true)
  })

  it.each([
    '',
    'evil.example:4173',
    '127.0.0.1',
    'localhost:80',
    'localhost:4173.evil.example',
    '127.0.0.1.nip.io:4173',
  ])('refuses %j on port 4173', (host) => {
    expect(isLoopbackHost(host, 4173)).toBe(false)
  })
})

describe('guards', () => {
  it('refuse a Host that is not this server, so that DNS rebinding reads nothing', async () => {
    const app = await testApp()
    const response = await app.inject({ url: '/api/dogs', headers: { host: 'evil.example' } })
    expect(response.statusCode).toBe(403)
    expect(response.headers['content-type']).toContain('application/problem+json')
    expect(response.json()).toMatchObject({ code: 'HOST_REFUSED', status: 403 })
  })

  it('refuse a change from a page of another origin and take one from their own', async () => {
    const app = await testApp()
    const post = (origin: string) =>
      app.inject({
        method: 'POST',
        url: '/api/dogs',
        headers: { host: 'localhost:80', origin },
        payload: { name: 'Juniper' },
      })
    expect((await post('http://evil.example')).json()).toMatchObject({ code: 'ORIGIN_REFUSED' })
    expect((await post('null')).statusCode).toBe(403)
    expect((await post('http://localhost:9999')).statusCode).toBe(403)
    expect((await post('http://localhost:80')).statusCode).toBe(201)
  })

  it('refuse a WebSocket from a page of another origin before it opens', async () => {
    const { app, url, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const foreign = new LiveClient(`${wsUrl}/api/live/send`, { origin: 'http://evil.example' })
    await expect(foreign.opened()).rejects.toThrow('403')
    const own = await new LiveClient(`${wsUrl}/api/live/watch?session=${session}`, { origin: url }).opened()
    expect(await own.next('sender')).toMatchObject({ connected: false })
  })

  it('close a socket that sends more than 64 KiB at once, with 1009', async () => {
    const { app, wsUrl } = await listeningApp()
    const { sender } = await welcomedSender(wsUrl, await addLiveSession(app))
    sender.socket.send(new Uint8Array(64 * 1024 + 1))
    expect((await sender.closed).code).toBe(1009)
  })

  it('close a sender that does not speak the protocol, with 1007 or 1008 and the reason', async () => {
    const { app, wsUrl } = await listeningApp()
    const session = await addLiveSession(app)
    const closedBy = async (...messages: (string | Uint8Array | object)[]) => {
      const client = await new LiveClient(`${wsUrl}/api/live/send`).opened()
      for (const message of messages) {
        if (message instanceof Uint8Array) client.socket.send(message)
        else client.send(message)
      }
      const { code } = await client.closed
      const error = client.all('error').at(-1)
      expect(error).toMatchObject({ fatal: true })
      return [code, error?.code]
    }
    expect(await closedBy('not json')).toEqual([1007, 'MESSAGE_UNREADABLE'])
    expect(await closedBy({ type: 'hello', protocol: 99 })).toEqual([1008, 'MESSAGE_INVALID'])
    expect(await closedBy({ ...helloMessage(session), extra: 1 })).toEqual([1008, 'MESSAGE_INVALID'])
    expect(await closedBy(helloMessage('nobody'))).toEqual([1008, 'SESSION_UNKNOWN'])
    expect(await closedBy(new Uint8Array(40))).toEqual([1008, 'HELLO_FIRST'])
    expect(await closedBy(helloMessage(session), new Uint8Array(40))).toEqual([1007, 'FRAME_INVALID'])
    expect(await closedBy(helloMessage(session), helloMessage(session))).toEqual([1008, 'HELLO_TWICE'])
  })

  it('send a strict policy: no inline script or style, no frame, only the sensors', async () => {
    const app = await testApp()
    const { headers } = await app.inject({ url: '/api/health', headers: { host: 'localhost:4173' } })
    const policy = String(headers['content-security-policy'])
    expect(policy).not.toMatch(/unsafe|https?:\/\/|\*/)
    expect(policy).toContain("default-src 'none'")
    expect(policy).toContain("script-src 'self';")
    expect(policy).toContain("connect-src 'self' ws://localhost:4173")
    expect(policy).toContain("frame-ancestors 'none'")
    expect(headers['permissions-policy']).toContain('accelerometer=(self), gyroscope=(self)')
    expect(headers['x-content-type-options']).toBe('nosniff')
    expect(headers['cache-control']).toBe('no-store')
  })

  it('answer 429 with a time to wait beyond the limit', async () => {
    const app = await testApp({ limits: { requestsPerMinute: 2 } })
    await app.inject('/api/health')
    await app.inject('/api/health')
    const response = await app.inject('/api/health')
    expect(response.statusCode).toBe(429)
    expect(response.json()).toMatchObject({ code: 'TOO_MANY_REQUESTS' })
    // A screen must stay whole: its files are not counted.
    for (let k = 0; k < 5; k++) expect((await app.inject('/')).statusCode).not.toBe(429)
    expect(response.json().detail).toMatch(/^Wait \d+ s/)
  })

  it('tell an unexpected failure in general words only', async () => {
    const app = await testApp()
    app.store.records.dogs = () => Promise.reject(new Error('secret path /var/lib'))
    const response = await app.inject('/api/dogs')
    expect(response.statusCode).toBe(500)
    expect(response.json()).toMatchObject({ code: 'INTERNAL' })
    expect(response.body).not.toContain('secret')
  })
})
