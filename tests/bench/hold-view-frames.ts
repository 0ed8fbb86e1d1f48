/**
 * Frame times of the hold view with 30 s of waveform on its finest grid (200 Hz) in Chromium:
 * node --conditions=source --import tsx tests/bench/hold-view-frames.ts
 * Needs `npm run build`. Prints median, 95th percentile and the share of frames on time, per throttling.
 */
import { loadavg } from 'node:os'
import { launchChromium, openPage } from '../helpers/browser.ts'
import { anySnapshot, FakeLive, FLOOR_MS2 } from '../helpers/fake-live.ts'
import { startServer } from '../helpers/running-server.ts'

const RATE_HZ = 200
const STRIP_S = 30
const MEASURED_S = 12
/** A frame on time at 60 Hz, with a tenth of a frame for the clock's own jitter, ms. */
const ON_TIME_MS = (1000 / 60) * 1.1
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
const SESSION = 'bench-session'

function history() {
  const count = STRIP_S * RATE_HZ
  const at = (k: number) => 30 + k / RATE_HZ
  const wave = (hz: number) => (s: number) =>
    3 * FLOOR_MS2 * Math.sin(2 * Math.PI * hz * s) + FLOOR_MS2 * Math.sin(21 * s)
  const fill = (f: (s: number) => number) => Array.from({ length: count }, (_, k) => f(at(k)))
  return [{ fromS: 30, stepS: 1 / RATE_HZ, ml: fill(wave(0.7)), cc: fill(wave(0.45)) }]
}

const server = await startServer()
const browser = await launchChromium()
console.log(`hold view, 30 s of ${RATE_HZ} Hz, ${MEASURED_S} s each, software raster`)
for (const [width, height] of [
  [412, 915],
  [1280, 800],
]) {
  for (const throttle of [1, 4, 6]) {
    const { page } = await openPage(browser, width)
    await page.setViewportSize({ width, height })
    const fake = new FakeLive(anySnapshot(SESSION, { strips: history() }), RATE_HZ)
    fake.now = { ...fake.now, holdS: 25 }
    await fake.install(page)
    await page.goto(`${server.url}/live/${SESSION}`)
    await page.locator('.word').filter({ hasText: 'steady' }).waitFor()
    const devtools = await page.context().newCDPSession(page)
    await devtools.send('Emulation.setCPUThrottlingRate', { rate: throttle })
    await page.waitForTimeout(2000)
    const times = (await page.evaluate(MEASURE)) as number[]
    const sorted = [...times].sort((a, b) => a - b)
    const quantile = (share: number) => sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))]
    const onTime = times.filter((ms) => ms <= ON_TIME_MS).length / times.length
    console.log(
      `${width} px, CPU ${throttle}×: median ${quantile(0.5).toFixed(1)} ms, p95 ${quantile(0.95).toFixed(1)} ms, ` +
        `${(onTime * 100).toFixed(1)} % within ${ON_TIME_MS.toFixed(1)} ms, ${(times.length / MEASURED_S).toFixed(1)} frames/s; load average ${loadavg()[0].toFixed(1)}`,
    )
    await page.context().close()
  }
}
await browser.close()
await server.stop()
