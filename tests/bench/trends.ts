/**
 * Trends of a dog from 1 month to 10 years of two sessions a day, on three set-ups: the server's answer (query,
 * statistics, serialisation; beside it a bare fastify route that gives as many bytes of JSON ready made) and, in headless
 * Chromium, from navigation to the first painted picture:
 * node --conditions=source --import tsx tests/bench/trends.ts
 * Needs `npm run build`. Read the ratios: to the bare route, and to one month.
 */
import { mkdtemp, rm, stat } from 'node:fs/promises'
import { readFileSync } from 'node:fs'
import { loadavg, tmpdir } from 'node:os'
import { join } from 'node:path'
import Fastify from 'fastify'
import type { Browser } from 'playwright-core'
import type { SetUp } from '#protocol/resources'
import { launchChromium } from '../helpers/browser.ts'
import { startServer } from '../helpers/running-server.ts'
import { course, DAY_US, storeSessions } from '../helpers/stored-sessions.ts'

const MONTHS = [1, 12, 36, 120]
const RUNS = 21
const PAINTS = 7
const NOW_US = Date.UTC(2026, 0, 31) * 1000
const SENSOR = JSON.stringify({ name: 'harness sensor', layout: { note: 'x'.repeat(2000) } })

const median = (values: number[]) => values.toSorted((a, b) => a - b)[values.length >> 1]
const p95 = (values: number[]) => values.toSorted((a, b) => a - b)[Math.floor(values.length * 0.95)]

interface Row {
  months: number
  sessions: number
  kilobytes: number
  answerMs: number
  worstMs: number
  bareMs: number
  paintMs: number
  barePaintMs: number
  residentMb: number
}

async function fill(dataFolder: string, months: number): Promise<number> {
  const days = Math.round(months * 30.44)
  const startUs = NOW_US - days * DAY_US
  const at = { startUs, days, sessionsPerDay: 1, sensorDescription: SENSOR }
  const foam: SetUp = { exercise: 'stand', surface: 'foam pad', heightCm: 6, unstable: true }
  const floor: SetUp = { exercise: 'stand', surface: 'floor', foreToHindCm: 45 }
  // One a day on foam, one on the floor, of which every fourth was recorded by the phone.
  const all = [
    ...course({ ...at, seed: 'foam', setUp: foam, per4Weeks: 0.99 }),
    ...course({ ...at, seed: 'floor', setUp: floor }).map((session, day) =>
      day % 4 === 1 ? { ...session, sensor: 'phone' } : session,
    ),
  ]
  await storeSessions(dataFolder, { id: 'bench', name: 'Juniper' }, all, async (db) => {
    for (let k = 5; k < all.length; k += 40) {
      await db
        .insertInto('check_ins')
        .values({ session_id: all[k].id, answer: 'tired', note: null, at: '2026-01-01T00:00:00Z' })
        .execute()
    }
  })
  return all.length
}

async function timed(url: string): Promise<{ times: number[]; bytes: number; body: string }> {
  const times: number[] = []
  let body = ''
  for (let run = 0; run < RUNS + 3; run++) {
    const start = performance.now()
    body = await (await fetch(url)).text()
    if (run >= 3) times.push(performance.now() - start)
  }
  return { times, bytes: Buffer.byteLength(body), body }
}

/** From navigation to the frame after `selector` has come, ms, in the page's own clock. */
async function painted(browser: Browser, url: string, selector: string): Promise<number> {
  const times: number[] = []
  for (let run = 0; run < PAINTS; run++) {
    const context = await browser.newContext({
      viewport: { width: 1280, height: 800 },
      serviceWorkers: 'block',
    })
    const page = await context.newPage()
    // Text: the page knows none of the names a compiler adds.
    await page.addInitScript(`
      new MutationObserver((_, observer) => {
        if (!document.querySelector(${JSON.stringify(selector)})) return
        observer.disconnect()
        requestAnimationFrame(() => setTimeout(() => (window.paintedMs = performance.now())))
      }).observe(document, { childList: true, subtree: true })`)
    await page.goto(url)
    const ms = await page.waitForFunction(() => (window as { paintedMs?: number }).paintedMs, undefined, {
      timeout: 60_000,
    })
    times.push((await ms.jsonValue()) as number)
    await context.close()
  }
  return median(times)
}

const residentMb = (pid: number) =>
  Number(/VmHWM:\s+(\d+) kB/.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))?.[1] ?? NaN) / 1024

async function bare(body: string): Promise<{ url: string; close: () => Promise<void> }> {
  const app = Fastify()
  app.get('/', (_, reply) => reply.type('application/json; charset=utf-8').send(body))
  return { url: await app.listen({ host: '127.0.0.1', port: 0 }), close: () => app.close() }
}

const browser = await launchChromium()
const rows: Row[] = []
for (const months of MONTHS) {
  const dataFolder = await mkdtemp(join(tmpdir(), 'swaybook-bench-'))
  const sessions = await fill(dataFolder, months)
  const server = await startServer({ dataFolder })
  const { times, bytes, body } = await timed(`${server.url}/api/dogs/bench/trends`)
  const floor = await bare(body)
  const { times: bareTimes } = await timed(floor.url)
  const paintMs = await painted(
    browser,
    `${server.url}/dogs/bench/trends`,
    '[data-testid=trend-picture] .weeks',
  )
  const barePaintMs = await painted(browser, `${server.url}/numbers`, 'h1')
  rows.push({
    months,
    sessions,
    kilobytes: bytes / 1024,
    answerMs: median(times),
    worstMs: p95(times),
    bareMs: median(bareTimes),
    paintMs,
    barePaintMs,
    residentMb: residentMb(server.pid),
  })
  await floor.close()
  const database = (await stat(join(dataFolder, 'swaybook.sqlite'))).size / 1e6
  console.error(`${months} months: ${sessions} sessions, database ${database.toFixed(1)} MB`)
  await server.stop()
  await rm(dataFolder, { recursive: true, force: true })
}
await browser.close()

const first = rows[0]
console.log(`load average ${loadavg()[0].toFixed(1)}`)
console.log(
  '| months | sessions | kB | answer p50 / p95, ms | bare route, ms | to bare | to 1 month | navigation → picture, ms | to a screen without data | to 1 month | peak memory, MB |',
)
console.log('| -: | -: | -: | -: | -: | -: | -: | -: | -: | -: | -: |')
for (const row of rows) {
  const cells = [
    row.months,
    row.sessions,
    row.kilobytes.toFixed(0),
    `${row.answerMs.toFixed(1)} / ${row.worstMs.toFixed(1)}`,
    row.bareMs.toFixed(1),
    `${(row.answerMs / row.bareMs).toFixed(1)} ×`,
    `${(row.answerMs / first.answerMs).toFixed(1)} ×`,
    row.paintMs.toFixed(0),
    `${(row.paintMs / row.barePaintMs).toFixed(1)} ×`,
    `${(row.paintMs / first.paintMs).toFixed(2)} ×`,
    row.residentMb.toFixed(0),
  ]
  console.log(`| ${cells.join(' | ')} |`)
}
