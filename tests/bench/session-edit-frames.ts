/**
 * Frame times while a mark and an edge of a hold are dragged in a session of one hour with 200 marks and about
 * 60 holds, in Chromium, beside those of an empty page in the same minute:
 * node --conditions=source --import tsx tests/bench/session-edit-frames.ts
 * Needs `npm run build`. Prints median and 95th percentile per width, throttling and drag.
 */
import { loadavg } from 'node:os'
import type { Page } from 'playwright-core'
import { formatTraceCsv } from '#signal/trace/format'
import { launchChromium, openPage } from '../helpers/browser.ts'
import { startServer } from '../helpers/running-server.ts'
import { openReview, placeOf, sessionsOfFiles, stored } from '../helpers/session-review.ts'
import { benchTrace } from './traces.ts'

const MINUTES = 60
const MARKS = 200
const HOLD_EVERY_S = 60
const MEASURED_S = 5
/** How far the pointer goes to and fro, px. */
const REACH_PX = 14
/** Gaps between animation frames, ms; text, since the page knows none of the names a compiler adds. */
const MEASURE = `new Promise((resolve) => {
  const gaps = []
  const start = performance.now()
  let before = start
  const step = (now) => {
    gaps.push(now - before)
    before = now
    if (now - start < ${MEASURED_S * 1000}) requestAnimationFrame(step)
    else resolve(gaps.slice(1))
  }
  requestAnimationFrame(step)
})`

function quantile(times: readonly number[], share: number): string {
  const sorted = [...times].sort((a, b) => a - b)
  return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))].toFixed(1)
}

/** Frames while the pointer goes to and fro around a place with its button down; Escape leaves the drag. */
async function framesOfDrag(page: Page, at: { x: number; y: number }): Promise<number[]> {
  await page.mouse.move(at.x, at.y)
  await page.mouse.down()
  const frames = page.evaluate(MEASURE) as Promise<number[]>
  let measuring = true
  void frames.finally(() => (measuring = false))
  for (let step = 0; measuring; step++) {
    const along = step % (4 * REACH_PX)
    const offPx = along < 2 * REACH_PX ? along - REACH_PX : 3 * REACH_PX - along
    await page.mouse.move(at.x + offPx, at.y)
  }
  await page.keyboard.press('Escape')
  await page.mouse.up()
  return frames
}

const server = await startServer()
const data = formatTraceCsv(benchTrace(MINUTES, HOLD_EVERY_S), { decimals: 3 })
const [session] = await sessionsOfFiles(server.url, 'Bench', [{ name: 'hour.csv', data }])
const { edits, report } = stored(server.url, session.id)
const { version } = await edits()
const marks = Array.from({ length: MARKS }, (_, k) => ({
  id: crypto.randomUUID(),
  atS: 20 + k * (((MINUTES - 1) * 60) / MARKS),
  kind: k % 2 === 0 ? 'support-off' : 'support-on',
  note: null,
}))
const put = await fetch(`${server.url}/api/sessions/${session.id}/edits`, {
  method: 'PUT',
  headers: { 'content-type': 'application/json', 'if-match': `"${version}"` },
  body: JSON.stringify({ marks, holds: [] }),
})
if (!put.ok) throw new Error(await put.text())
console.log(`${MINUTES} min, ${MARKS} marks, ${(await report()).holds.length} holds; ${MEASURED_S} s each`)

const browser = await launchChromium()
for (const width of [1280, 390]) {
  for (const throttle of [1, 4, 6]) {
    const { page } = await openPage(browser, width)
    const devtools = await page.context().newCDPSession(page)
    const throttled = () => devtools.send('Emulation.setCPUThrottlingRate', { rate: throttle })
    await throttled()
    const empty = await framesOfDrag(page, { x: width / 2, y: 200 })
    await devtools.send('Emulation.setCPUThrottlingRate', { rate: 1 })

    const lanes = await openReview(page, server.url, session.id)
    await lanes.getByRole('option', { name: /^Hold 30 begins/ }).focus()
    await lanes.evaluate((node) => node.scrollIntoView({ block: 'center' }))
    const edge = await placeOf(lanes, /^Hold 30 begins/)
    await throttled()
    const ofEdge = await framesOfDrag(page, { x: edge.x - 4, y: edge.y })
    const mark = await placeOf(lanes, /^Hands-o(n|ff), 30:/)
    const ofMark = await framesOfDrag(page, mark)
    for (const [what, times] of [
      ['empty page', empty],
      ['hold edge', ofEdge],
      ['mark', ofMark],
    ] as const) {
      console.log(
        `${width} px, CPU ${throttle}×, ${what}: median ${quantile(times, 0.5)} ms, p95 ${quantile(times, 0.95)} ms; ` +
          `load average ${loadavg()[0].toFixed(1)}`,
      )
    }
    await page.context().close()
  }
}
await browser.close()
await server.stop()
