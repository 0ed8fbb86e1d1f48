import { chmodSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, it, onTestFinished } from 'vitest'
import { fullDog, PLANTED } from '../export/full-dog.ts'
import { temporaryDir } from '../helpers/build-app.ts'
import { startServer } from '../helpers/running-server.ts'

const TOKEN = 'metrics-token-0123456789abcdef0123'
const COOKIE = 'cookie-value-0123456789abcdef'

it('is JSON line by line at its most talkative, and tells no words of people, no token and no cookie', async () => {
  const tokenFile = join(await temporaryDir(), 'token')
  writeFileSync(tokenFile, TOKEN)
  chmodSync(tokenFile, 0o600)
  const dataFolder = await temporaryDir()
  const server = await startServer({
    dataFolder,
    env: { LOG_LEVEL: 'trace', SWAYBOOK_METRICS_TOKEN_FILE: tokenFile },
  })
  onTestFinished(() => server.kill())
  const { url } = server
  await fullDog({ url, wsUrl: url.replace('http', 'ws') })
  const headers = { authorization: `Bearer ${TOKEN}`, cookie: `swaybook_sign_in=${COOKIE}` }
  expect((await fetch(`${url}/api/metrics`, { headers })).status).toBe(200)
  // Refused, and failing, requests are told too.
  await fetch(`${url}/api/dogs`, { method: 'POST', headers, body: JSON.stringify({ name: PLANTED }) })
  await fetch(`${url}/api/sessions/none`, { headers })
  expect(await server.stop()).toBe(0)
  const lines = server.stderr().trim().split('\n')
  expect(lines.length).toBeGreaterThan(50)
  for (const line of lines) expect(JSON.parse(line)).toHaveProperty('level')
  // Requests are told with their ids, so this log would have shown them.
  expect(lines.filter((line) => line.includes('"requestId"')).length).toBeGreaterThan(20)
  for (const secret of [PLANTED, TOKEN, COOKIE]) {
    expect(lines.filter((line) => line.includes(secret))).toEqual([])
  }
}, 120_000)
