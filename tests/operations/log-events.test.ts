import { readdirSync, readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import Fastify from 'fastify'
import { expect, it, vi } from 'vitest'
import { LOG_EVENTS } from '#server/log/events'
import type { LogEvent } from '#server/log/events'
import { OnceAMinute } from '#server/log/once-a-minute'
import { logOptions } from '#server/log/options'
import { plainText } from '#server/log/plain-text'
import { tell } from '#server/log/tell'
import { testApp } from '../helpers/build-app.ts'

const SERVER = fileURLToPath(new URL('../../server/', import.meta.url))
const PAGE = readFileSync(`${SERVER}LOGS.md`, 'utf8')

/** A logger as the server has it, and the lines it wrote. */
function collected() {
  const lines: string[] = []
  const { log } = Fastify(logOptions('trace', { write: (line) => lines.push(line) }))
  return { log, lines, last: () => JSON.parse(lines.at(-1)!) as Record<string, unknown> }
}

it('the page names each event there is, its level, its fields and its meaning, and no other', () => {
  const rows = [...PAGE.matchAll(/^\| `([a-z.-]+)` +\| (\w+) +\| (.*?) +\| (.*?) +\|$/gm)]
    .filter(([, name]) => name.includes('-') || name.includes('.'))
    .map(([, name, level, fields, words]) => [name, level, fields.replaceAll('`', ''), words])
  const known = Object.entries(LOG_EVENTS).map(([name, { level, fields, words }]) => [
    name,
    level,
    fields.join(', '),
    words,
  ])
  expect(rows).toEqual(known)
})

it('no part of the server writes a line in another way, and each event is told somewhere', () => {
  const files = readdirSync(SERVER, { recursive: true, encoding: 'utf8' }).filter((path) =>
    path.endsWith('.ts'),
  )
  const sources = files.map((path) => [path, readFileSync(SERVER + path, 'utf8')] as const)
  const direct = /\blog\)?(\?|!)?\s*\.\s*(fatal|error|warn|info|debug|trace)\(|\bconsole\./
  const others = sources.filter(([path, text]) => !path.startsWith('cli/') && direct.test(text))
  expect(others.map(([path]) => path)).toEqual([])
  const told = sources.filter(([path]) => path !== 'log/events.ts').map(([, text]) => text)
  const silent = (Object.keys(LOG_EVENTS) as LogEvent[]).filter(
    (event) => !told.some((text) => text.includes(`'${event}'`)),
  )
  expect(silent).toEqual([])
})

it('fields that hold secrets are hidden, whoever gives them to a logger', () => {
  const { log, lines } = collected()
  const secret = 'not-for-the-log'
  const fields = [
    'password',
    'secret',
    'cookie',
    'authorization',
    'recoveryCodes',
    'token',
    'body',
    'headers',
  ]
  for (const name of [...fields, 'set-cookie', 'uri', 'current']) {
    log.warn({ [name]: secret }, 'told')
    log.warn({ req: { [name]: secret }, asked: { [name]: secret } }, 'told')
    log.warn({ asked: { deeper: { [name]: secret } } }, 'told')
  }
  log.child({ token: secret }).warn('told')
  log.warn({ err: Object.assign(new Error('refused'), { request: { body: secret }, body: secret }) }, 'told')
  expect(lines).toHaveLength((fields.length + 3) * 3 + 2)
  expect(lines.filter((line) => line.includes(secret))).toEqual([])
})

it('what has the form of a secret is hidden in text, in addresses and in errors', () => {
  const { log, lines } = collected()
  // RFC 4648 §5: 32 bytes are 43 characters.
  const secret = Buffer.alloc(32, 0xa7).toString('base64url')
  expect(secret).toHaveLength(43)
  tell(log, 'address.refused', { host: `x ${secret}.example` })
  const cause = new Error(`of ${secret}`)
  tell(log, 'request.failed', { err: new Error(`at /join/${secret}`, { cause }), route: `/join#${secret}` })
  tell(log, 'limit.reached', { route: 'x'.repeat(480) + ' ' + secret })
  log.info({ req: { method: 'GET', url: `/api/x?secret=${secret.slice(3)}&code=123456` } }, 'told')
  expect(lines.join('')).toContain('[hidden]')
  expect(lines.join('')).toContain('caused by')
  for (const part of [secret, secret.slice(3), secret.slice(0, 15), '123456']) {
    expect(lines.filter((line) => line.includes(part))).toEqual([])
  }
  // Ids have 16 characters and stay.
  tell(log, 'dog.deleted', { by: 'abcdefghijklmnop' })
  expect(lines.at(-1)).toContain('abcdefghijklmnop')
})

it('line ends, control characters and marks of direction stay within their field, spelled out', () => {
  const { log, lines, last } = collected()
  const origin = 'a\n{"event":"sign-in.done"}\r\u0000\u001b[2J\u009b2J\u0085\u2028\u202e\u2066z'
  tell(log, 'cross-site.refused', { origin })
  expect(lines).toHaveLength(1)
  expect(lines[0].endsWith('\n')).toBe(true)
  // Printable ASCII.
  expect(lines[0].slice(0, -1)).toMatch(/^[\x20-\x7e]*$/)
  expect(last()).toMatchObject({ event: 'cross-site.refused', level: 40 })
  expect(last().origin).toContain('\\u000a{"event":"sign-in.done"}\\u000d')
  expect(plainText('x'.repeat(10_000)).length).toBeLessThan(600)
})

it('an unexpected failure is told with its cause, and the number the answer gives finds it', async () => {
  const lines: string[] = []
  const write = vi.spyOn(process.stderr, 'write').mockImplementation((line) => lines.push(String(line)) > 0)
  try {
    const app = await testApp({ logLevel: 'warn' })
    app.store.records.dogs = () =>
      Promise.reject(new Error('of a test', { cause: new Error('the deeper one') }))
    const { requestId, detail } = (await app.inject('/api/dogs')).json<{
      requestId: string
      detail: string
    }>()
    expect(detail).toContain(requestId)
    const told = lines.map((line) => JSON.parse(line) as Record<string, unknown>)
    const failed = { event: 'request.failed', level: 50, requestId, problem: 'INTERNAL', route: '/api/dogs' }
    expect(told).toEqual([expect.objectContaining(failed)])
    expect(told[0].err).toMatchObject({
      message: 'of a test',
      stack: expect.stringContaining('the deeper one'),
    })
  } finally {
    write.mockRestore()
  }
})

it('what a library says is a line of the event library', () => {
  const { log, last } = collected()
  log.info('listening')
  expect(last()).toMatchObject({ event: 'library', msg: 'listening' })
})

it('a flood of one kind is one line a minute', () => {
  let nowMs = 0
  const seldom = new OnceAMinute(() => nowMs)
  const news = (what: string) => seldom.isNew(what)
  expect([news('a'), news('a'), news('b')]).toEqual([true, false, true])
  nowMs = 59_999
  expect(news('a')).toBe(false)
  nowMs = 60_000
  expect([news('a'), news('a')]).toEqual([true, false])
})
