import type { Page } from 'playwright-core'
import { beforeAll, describe, expect, it } from 'vitest'
import { CUE_NOTES } from '../../dashboard/lib/cue-notes.ts'
import type { Sound } from '../../dashboard/lib/cue-notes.ts'
import { tonePitchHz } from '../../dashboard/lib/sway-tone.ts'
import { bundleForPage } from '../helpers/bundle-for-page.ts'
import { openPage } from '../helpers/browser.ts'
import { browserAndServer } from '../helpers/browser-and-server.ts'

const use = browserAndServer()
const RATE_HZ = 48_000
const STARTS_AT_S = 0.5

/** The part of the sound modules that runs in the page. */
interface PageSounds {
  scheduleCue(context: BaseAudioContext, output: AudioNode, cue: Sound, atS: number, pitch?: string): void
  SwayTone: new (
    context: BaseAudioContext,
    output: AudioNode,
  ) => { follow(floors: number | null, atS: number, pitch?: string): void }
}

let cueScript = ''
let toneScript = ''
beforeAll(async () => {
  cueScript = await bundleForPage('dashboard/lib/sounds.ts', 'cueSounds')
  toneScript = await bundleForPage('dashboard/lib/sway-tone.ts', 'toneSounds')
})

async function soundPage(): Promise<Page> {
  const { page } = await openPage(use.browser, 390)
  await page.goto(use.server.url)
  await page.evaluate(`${cueScript}; window.cueSounds = cueSounds`)
  await page.evaluate(`${toneScript}; window.toneSounds = toneSounds`)
  return page
}

/** Samples of a cue rendered by Chromium's own audio engine, beginning at 0.5 s of silence. */
async function renderCue(page: Page, cue: Sound, pitch = 'usual'): Promise<Float64Array> {
  const samples = await page.evaluate(
    async ([name, choice, rate, startsAt]) => {
      const { cueSounds } = window as unknown as { cueSounds: PageSounds }
      const context = new OfflineAudioContext(1, 3 * rate, rate)
      cueSounds.scheduleCue(context, context.destination, name, startsAt, choice)
      return [...(await context.startRendering()).getChannelData(0)]
    },
    [cue, pitch, RATE_HZ, STARTS_AT_S] as const,
  )
  return Float64Array.from(samples)
}

/** Samples of the tone that follows `floors` from 0.5 s on and falls silent at 2 s. */
async function renderTone(page: Page, first: number, second: number): Promise<Float64Array> {
  const samples = await page.evaluate(
    async ([a, b, rate]) => {
      const { toneSounds } = window as unknown as { toneSounds: PageSounds }
      const context = new OfflineAudioContext(1, 3 * rate, rate)
      const tone = new toneSounds.SwayTone(context, context.destination)
      tone.follow(a, 0.5)
      tone.follow(b, 1.2)
      tone.follow(null, 2.2)
      return [...(await context.startRendering()).getChannelData(0)]
    },
    [first, second, RATE_HZ] as const,
  )
  return Float64Array.from(samples)
}

const peak = (x: Float64Array, fromS: number, toS: number) =>
  x.slice(fromS * RATE_HZ, toS * RATE_HZ).reduce((most, value) => Math.max(most, Math.abs(value)), 0)

/** First sample above 1 % of full scale, s. */
const onsetS = (x: Float64Array, fromS = 0) =>
  (Math.floor(fromS * RATE_HZ) + x.slice(fromS * RATE_HZ).findIndex((value) => Math.abs(value) > 0.01)) /
  RATE_HZ

/** Pitch by counting rising zero crossings, interpolated, Hz: exact for one steady sine. */
function pitchHz(x: Float64Array, fromS: number, toS: number): number {
  const crossings: number[] = []
  for (let i = Math.round(fromS * RATE_HZ); i + 1 < toS * RATE_HZ; i++) {
    if (x[i] < 0 && x[i + 1] >= 0) crossings.push(i - x[i] / (x[i + 1] - x[i]))
  }
  return ((crossings.length - 1) * RATE_HZ) / (crossings[crossings.length - 1] - crossings[0])
}

describe('sounds as Chromium renders them', () => {
  it.each(Object.keys(CUE_NOTES) as Sound[])('%s has its pitches, its level and its rhythm', async (cue) => {
    const page = await soundPage()
    const x = await renderCue(page, cue)
    expect(peak(x, 0, STARTS_AT_S - 0.001)).toBe(0)
    for (const note of CUE_NOTES[cue]) {
      const startS = STARTS_AT_S + note.atS
      // Within 3 ms: the rise takes 5 ms to the full level.
      expect(Math.abs(onsetS(x, startS) - startS)).toBeLessThan(0.003)
      // The first 30 ms after the rise, when the note is loud; 1 %: few periods of a low note fit in.
      const heardToS = startS + Math.min(0.035, note.lengthS * 0.8)
      expect(Math.abs(pitchHz(x, startS + 0.003, heardToS) / note.frequencyHz - 1)).toBeLessThan(0.01)
      // A note may meet its peak between crests, and falls from it at once: 0.6 to 1 of the gain.
      const loudest = peak(x, startS, startS + note.lengthS)
      expect(loudest).toBeGreaterThan(0.6 * note.gain)
      expect(loudest).toBeLessThanOrEqual(note.gain * 1.01)
    }
    const last = CUE_NOTES[cue][CUE_NOTES[cue].length - 1]
    expect(peak(x, STARTS_AT_S + last.atS + last.lengthS + 0.03, 3)).toBe(0)
    await page.context().close()
  })

  it('an octave lower halves the pitch', async () => {
    const page = await soundPage()
    const [usual, low] = [await renderCue(page, 'break'), await renderCue(page, 'break', 'low')]
    const ratio = pitchHz(low, 0.51, 0.6) / pitchHz(usual, 0.51, 0.6)
    // Ten periods of the low note: within 1 %.
    expect(Math.abs(ratio - 0.5)).toBeLessThan(0.005)
    await page.context().close()
  })

  it('the tone is silent without a sway, quiet with one, and glides to the pitch of the next', async () => {
    const page = await soundPage()
    const x = await renderTone(page, 1, 4)
    expect(peak(x, 0, 0.49)).toBe(0)
    // Settled after five time constants of the fade; 0.5 %: the glide's rest.
    expect(pitchHz(x, 0.9, 1.19) / tonePitchHz(1)).toBeCloseTo(1, 2)
    expect(pitchHz(x, 1.95, 2.19) / tonePitchHz(4)).toBeCloseTo(1, 2)
    // On the way it is in between: a jump would click and startle.
    const underway = pitchHz(x, 1.22, 1.3)
    expect(underway).toBeGreaterThan(tonePitchHz(1) * 1.05)
    expect(underway).toBeLessThan(tonePitchHz(4) * 0.95)
    const level = peak(x, 0.9, 1.19)
    expect(level).toBeGreaterThan(0.1)
    // The quietest cue, the tick, has 0.35.
    expect(level).toBeLessThan(0.35 / 2)
    expect(peak(x, 2.8, 3)).toBeLessThan(0.001)
    await page.context().close()
  })
})
