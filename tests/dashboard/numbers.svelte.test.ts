import { flushSync, mount, unmount } from 'svelte'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import App from '../../dashboard/App.svelte'
import MeasurePicture from '../../dashboard/components/numbers/MeasurePicture.svelte'
import { numberPictures } from '../../dashboard/lib/numbers/example-pictures.ts'
import { GLOSSARY } from '../../dashboard/lib/numbers/glossary.ts'
import { GROUPS } from '../../dashboard/lib/numbers/groups.ts'
import type { NumberPictures } from '../../dashboard/lib/numbers/pictures.ts'
import stored from '../../dashboard/lib/numbers/pictures.json'
import { SOURCES } from '../../dashboard/lib/numbers/sources.ts'
import { accelerationUnit } from '../../dashboard/lib/preferences.svelte.ts'

const measures = GROUPS.flatMap((group) => group.measures)
const pictures = stored as unknown as NumberPictures

let host: HTMLElement
let shown: object | null = null

beforeEach(() => {
  host = document.createElement('div')
  document.body.replaceChildren(host)
})

afterEach(async () => {
  if (shown) await unmount(shown)
  shown = null
  accelerationUnit.value = 'si'
})

describe('the words', () => {
  test('every measure the screens show has its section', () => {
    // What the session screen, its holds and the hold view show, and what trends will ask of it.
    expect(measures.map(({ id }) => id)).toEqual([
      'hold',
      'best-hold',
      'support-share',
      'sway',
      'ellipse',
      'compare',
      'path-rate',
      'jerk',
      'sway-spectrum',
      'steadiness',
      'tremor',
      'look-alikes',
      'tiring',
      'quality',
      'mount',
      'gaps',
      'change',
    ])
  })

  test.each(measures)(
    '$id says in one sentence what it is, then what moves it, its limits, its noise',
    (m) => {
      expect(m.what).toMatch(/^[A-Z].*[^.]\.$/)
      expect(m.what.slice(0, -1)).not.toMatch(/\. [A-Z]/)
      for (const part of [m.moves, m.cannot, m.noise]) expect(part).toMatch(/^[A-Z“].{30,}[.”]$/)
    },
  )

  test('nobody is told to do more, and nothing is called normal, abnormal or a diagnosis', () => {
    const all = measures.flatMap((m) => [m.what, m.moves, m.cannot, m.noise]).join(' ')
    expect(all).not.toMatch(
      /progress to|next level|increase the|do more|longer than the plan|abnormal|\bnormal\b/i,
    )
    expect(all).toContain('no norms for dogs')
  })

  test('the words of the trade are each explained once', () => {
    const terms = GLOSSARY.map(({ term }) => term)
    expect(new Set(terms).size).toBe(terms.length)
    const text = terms.join(', ').toLowerCase()
    for (const word of [
      'dog',
      'handler',
      'therapist',
      'plan',
      'set-up',
      'session',
      'repetition',
      'hold',
      'support',
      'quiet stand',
      'sway',
      'tremor',
      'steadiness ratio',
      'check-in',
      'trend',
    ]) {
      expect(text).toContain(word)
    }
  })
})

describe('the pictures', () => {
  test('are what the analysis gives for the simulated sessions today', { timeout: 60_000 }, () => {
    // After a change of the analysis: see dashboard/README.md for how to write the file anew.
    expectClose(numberPictures(), stored, 'pictures')
  })

  test('agree with the definitions they explain', () => {
    const { steady, wobbly, floor, pieces, session, stand, heading } = pictures
    expect(wobbly.rms).toBeGreaterThan(1.5 * steady.rms)
    expect(wobbly.rmsInterval[0]).toBeGreaterThan(steady.rmsInterval[1])
    // Stored to four digits.
    expect(steady.rms / floor.rms).toBeCloseTo(steady.steadinessRatio, 2)
    expect([...pieces.sway].sort((a, b) => a - b)[1]).toBeCloseTo(pieces.comparable, 4)
    const handsOnS = session.holds.reduce((sum, hold) => sum + hold.handsOnS, 0)
    expect(handsOnS / (handsOnS + session.handsOffHoldS)).toBeCloseTo(session.supportShare, 2)
    expect(session.bestHoldS).toBeCloseTo(Math.max(...session.holds.map((hold) => hold.handsOffS)), 2)
    expect(stand.holds).toHaveLength(2)
    expect(Math.abs(stand.holds[0].toS - stand.steps[0].fromS)).toBeLessThan(0.3)
    for (const { path, ellipse } of [steady, wobbly, heading.stated]) {
      // 95 % of the path inside; sway is not quite normal, so within 5 points.
      const share = path.ml.filter((ml, k) => inside(ml, path.cc[k], ellipse)).length / path.ml.length
      expect(Math.abs(share - 0.95)).toBeLessThan(0.05)
    }
    expect(heading.unknown.rms).toBeCloseTo(heading.stated.rms, 3)
  })

  test('slow and quick differ in tempo, not in amount; tremor and look-alikes are found', () => {
    const { slow, quick, tremor, noTremor, panting, wagging, fine, coarse } = pictures
    expect(quick.rms / slow.rms).toBeLessThan(1.25)
    expect(quick.pathRate / slow.pathRate).toBeGreaterThan(1.5)
    expect(quick.jerk / slow.jerk).toBeGreaterThan(3)
    expect(noTremor.peakHz).toBeNull()
    // Played at 8.2 Hz; a bin is 0.5 Hz.
    expect(Math.abs(tremor.peakHz! - 8.2)).toBeLessThan(0.25)
    expect([panting.lookalike, wagging.lookalike]).toEqual(['panting', 'tail wag'])
    expect([fine.verdict, coarse.verdict]).toEqual(['good', 'usable'])
  })

  test.each(measures)('$id has a picture with its words, in both units', ({ id }) => {
    for (const unit of ['si', 'mg'] as const) {
      accelerationUnit.value = unit
      shown = mount(MeasurePicture, { target: host, props: { of: id } })
      flushSync()
      const drawn = [...host.querySelectorAll('svg[role=img]')]
      expect(drawn.length).toBeGreaterThan(0)
      for (const picture of drawn) {
        expect(picture.getAttribute('aria-label')!.length).toBeGreaterThan(30)
        expect(picture.outerHTML).not.toMatch(/NaN|Infinity|undefined/)
      }
      const caption = host.querySelector('figcaption')!.textContent!
      expect(caption.length).toBeGreaterThan(30)
      expect(host.textContent).not.toMatch(/NaN|Infinity|undefined|null/)
      void unmount(shown)
      shown = null
      host.replaceChildren()
    }
  })
})

test('the page shows stop and ask before any number, every section, the words and the sources', async () => {
  history.replaceState(null, '', '/numbers')
  shown = mount(App, { target: host })
  flushSync()
  await expect.poll(() => host.querySelector('h1')?.textContent).toBe('What the numbers mean')
  const headings = [...host.querySelectorAll('h2, h3')].map((heading) => heading.textContent)
  expect(headings.slice(0, 2)).toEqual(['When to stop', 'When to ask'])
  for (const { title, id } of measures) {
    expect(headings).toContain(title)
    expect(host.querySelector(`a[href="#${id}"]`)?.textContent).toBe(title)
    expect(document.getElementById(id)?.querySelector('svg[role=img]')).not.toBeNull()
  }
  const text = host.textContent!.replace(/\s+/g, ' ')
  for (const { work } of SOURCES) expect(text).toContain(work)
  for (const { term } of GLOSSARY) expect(text).toContain(term)
  expect(text).toContain('Common practice, no source')
  expect(text).toContain('Swaybook never suggests doing more than the plan')
})

function inside(ml: number, cc: number, ellipse: NumberPictures['steady']['ellipse']): boolean {
  const angle = (ellipse.angleDeg * Math.PI) / 180
  const along = ml * Math.cos(angle) + cc * Math.sin(angle)
  const across = cc * Math.cos(angle) - ml * Math.sin(angle)
  return (along / ellipse.major) ** 2 + (across / ellipse.minor) ** 2 <= 1
}

/** Numbers within 0.5 % or two units of the last digit stored: platforms round the last bits differently. */
function expectClose(now: unknown, then: unknown, where: string): void {
  if (typeof now === 'number' && typeof then === 'number') {
    expect(Math.abs(now - then), `${where}: ${now} instead of ${then}`).toBeLessThanOrEqual(
      0.005 * Math.abs(then) + 2e-4,
    )
  } else if (now !== null && typeof now === 'object' && then !== null && typeof then === 'object') {
    expect(Object.keys(now), where).toEqual(Object.keys(then))
    for (const [key, value] of Object.entries(now)) {
      expectClose(value, (then as Record<string, unknown>)[key], `${where}.${key}`)
    }
  } else expect(now, where).toEqual(then)
}
