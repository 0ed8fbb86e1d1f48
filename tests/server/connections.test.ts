import { once } from 'node:events'
import { connect } from 'node:net'
import { Duplex } from 'node:stream'
import { expect, it, onTestFinished } from 'vitest'
import { buildApp } from '#server/app'
import { listeningApp, temporaryDir, testConfig } from '../helpers/build-app.ts'
import { serverProcess } from '../helpers/server-process.ts'

async function connected(url: string) {
  const socket = connect(Number(new URL(url).port), '127.0.0.1')
  onTestFinished(() => void socket.destroy())
  await once(socket, 'connect')
  return socket
}

it('stops cleanly although a connection was opened on which nothing was ever asked', async () => {
  const { child, exited, url } = await serverProcess(await temporaryDir())
  const silent = await connected(url)
  const hungUp = once(silent, 'close')
  // What came after it is answered, so the server has seen it.
  expect((await fetch(`${url}/api/health`)).status).toBe(200)
  child.kill('SIGTERM')
  expect(await exited).toBe(0)
  await hungUp
})

it('keeps a connection that was silent for a while', async () => {
  const { url } = await listeningApp()
  const late = await connected(url)
  expect((await fetch(`${url}/api/health`)).status).toBe(200)
  late.write(`GET /api/health HTTP/1.1\r\nHost: ${new URL(url).host}\r\n\r\n`)
  const [answer] = (await once(late, 'data')) as [Buffer]
  expect(answer.toString()).toMatch(/^HTTP\/1\.1 200 /)
})

it('lets go of a request whose connection broke before it was looked at, without calling that a fault', async () => {
  const app = await buildApp(testConfig())
  onTestFinished(() => app.close())
  const errors: unknown[] = []
  app.addHook('onError', async (_request, _reply, error) => void errors.push(error))
  await app.ready()
  // As a socket that was reset: it has no address any more (Node documentation, http, event 'connection').
  const broken = new Duplex({ read: () => undefined, write: (_data, _encoding, done) => done() })
  app.server.emit('connection', broken)
  const closed = once(broken, 'close')
  broken.push('GET /api/dogs HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n')
  await closed
  expect(errors).toEqual([])
})
