import { once } from 'node:events'
import { describe, expect, it } from 'vitest'
import { call, listeningApp, temporaryDir, testApp } from '../helpers/build-app.ts'
import { rawSocket } from '../helpers/raw-socket.ts'
import { serverProcess } from '../helpers/server-process.ts'

it('every answer carries the headers that browsers obey', async () => {
  const app = await testApp({ limits: { requestsPerMinute: 1000 } })
  const paths = [
    '/',
    '/sw.js',
    '/api/dogs',
    '/api/none',
    '/none',
    '/api/dogs/none/export.zip',
    '/%zz',
    '/api/openapi.json',
  ]
  for (const url of paths) {
    const { headers, body } = await call(app, { method: 'GET', url })
    expect([url, headers['referrer-policy'], headers['x-content-type-options']]).toEqual([
      url,
      'no-referrer',
      'nosniff',
    ])
    expect(headers['content-security-policy'], url).toContain("frame-ancestors 'none'")
    expect(headers['cross-origin-opener-policy'], url).toBe('same-origin')
    expect(headers['cross-origin-resource-policy'], url).toBe('same-origin')
    expect(headers['permissions-policy'], url).toContain('camera=()')
    if (body !== '')
      expect(headers['content-type'], url).toMatch(/^(text\/[a-z]+; charset=utf-8|application\/[a-z+]+)/)
    expect(headers['server'], url).toBeUndefined()
    expect(headers['x-powered-by'], url).toBeUndefined()
    expect(headers['access-control-allow-origin'], url).toBeUndefined()
  }
})

it('TRACE and methods nobody declared are not answered', async () => {
  const { url } = await listeningApp()
  const { host } = new URL(url)
  for (const method of ['TRACE', 'CONNECT', 'PROPFIND', 'OPTIONS', 'PURGE']) {
    const { closed } = await rawSocket(
      url,
      `${method} /api/dogs HTTP/1.1\r\nHost: ${host}\r\nX-Mine: secret\r\nConnection: close\r\n\r\n`,
    )
    const answer = await closed
    expect([method, answer.split(' ')[1] ?? 'closed']).toEqual([
      method,
      expect.stringMatching(/^(40[0345]|501|closed)$/),
    ])
    expect(answer).not.toContain('secret')
  }
})

describe('a request made to confuse', () => {
  it('by naming a prototype in its body is refused', async () => {
    const app = await testApp()
    for (const payload of [
      '{"name":"x","__proto__":{"admin":true}}',
      '{"name":"x","constructor":{"prototype":{"admin":true}}}',
    ]) {
      const answer = await app.inject({
        method: 'POST',
        url: '/api/dogs',
        headers: { 'content-type': 'application/json' },
        payload,
      })
      expect([payload, answer.statusCode]).toEqual([payload, 400])
    }
    expect(({} as { admin?: boolean }).admin).toBeUndefined()
    expect(await app.store.records.dogs()).toEqual([])
  })

  // OWASP, SQL injection: what ends a text, a statement and a line of one.
  it.each(["x'; DROP TABLE dogs; --", 'x" OR "1"="1', "x\\' OR 1=1 /*", "%' UNION SELECT * FROM people --"])(
    'by ending a statement, as %s, is taken as the text it is',
    async (name) => {
      const app = await testApp()
      const made = await call(app, { method: 'POST', url: '/api/dogs', payload: { name } })
      const dogs = (await call(app, { url: '/api/dogs' })).json<{ id: string; name: string }[]>()
      expect(dogs).toMatchObject([{ name }])
      const asId = encodeURIComponent(name)
      for (const url of [
        `/api/dogs/${asId}`,
        `/api/sessions/${asId}`,
        `/api/sessions?dogId=${asId}&cursor=${asId}`,
      ]) {
        expect([url, (await call(app, { url })).statusCode]).toEqual([url, expect.toBeOneOf([400, 404])])
      }
      const there = await call(app, { url: `/api/dogs/${made.json<{ id: string }>().id}` })
      expect(there.json()).toMatchObject({ name })
    },
  )

  it('by a parameter that comes twice is refused', async () => {
    const app = await testApp()
    const answer = await call(app, { method: 'GET', url: '/api/sessions?limit=1&limit=200' })
    expect([answer.statusCode, answer.json().code]).toEqual([400, 'REQUEST_INVALID'])
  })
})

it('what a client sends cannot add a line to the log', async () => {
  const { child, output, url } = await serverProcess(await temporaryDir())
  const line = '%0a{"level":30,"msg":"forged"}'
  await fetch(`${url}/api/${line}`, { headers: { 'user-agent': 'x"}\\n{"msg":"forged"}' } })
  await rawSocket(url, `GET /\u0085{"msg":"forged"} HTTP/1.1\r\nHost: x\r\n\r\n`).then(({ closed }) => closed)
  child.kill('SIGTERM')
  await once(child, 'exit')
  for (const entry of output.err.split('\n').filter(Boolean)) {
    expect((JSON.parse(entry) as { msg: string }).msg).not.toBe('forged')
  }
})
