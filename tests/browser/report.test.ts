import { execFileSync } from 'node:child_process'
import { mkdir, writeFile } from 'node:fs/promises'
import { fileURLToPath } from 'node:url'
import type { Page } from 'playwright-core'
import { describe, expect, it } from 'vitest'
import type { DiaryEntry } from '#protocol/diary'
import type { RepetitionNote } from '#protocol/session-review'
import type { MeasureName } from '#signal/trend/measures'
import { accessibilityFaults, fitsWidth, keepPicture, openPage, WIDTHS } from '../helpers/browser.ts'
import { browserAndServer } from '../helpers/browser-and-server.ts'
import { madeCourse, madeDog, madeStoredPlan, trendsOfMade } from '../helpers/made-report.ts'
import type { MadeRecords } from '../helpers/made-report.ts'
import { press, tabTo, typeInto } from '../helpers/keyboard.ts'
import { hasPoppler } from '../helpers/poppler.mjs'

const use = browserAndServer()

const FOAM = {
  exercise: 'stand on foam pad',
  surface: 'foam pad',
  foreToHindCm: 52,
  leftToRightCm: 18,
  heightCm: 6,
  firmness: 'medium',
} as const
const ROCKER = {
  exercise: 'fore paws on rocker board',
  surface: 'rocker board',
  heightCm: 10,
  firmness: 'firm',
} as const
const PERIOD = '?from=2026-08-06&to=2026-11-25'
const PAPERS = [
  { format: 'A4', sizePt: [595, 842] },
  { format: 'Letter', sizePt: [612, 792] },
] as const

const entry = (id: string, changes: Partial<DiaryEntry>): DiaryEntry => ({
  id,
  dogId: 'made-dog',
  kind: 'medication',
  fromDate: '2026-09-01',
  untilDate: null,
  title: 'Medicine A',
  dose: '1 tablet twice a day',
  note: null,
  version: 1,
  createdAt: '2026-09-01T00:00:00.000Z',
  updatedAt: '2026-09-01T00:00:00.000Z',
  ...changes,
})

function usualRecords(): MadeRecords {
  const sessions = [
    ...madeCourse(FOAM, { seed: 'foam', lastDay: '2026-11-24', weeks: 16 }),
    ...madeCourse(ROCKER, { seed: 'rocker', lastDay: '2026-11-23', weeks: 7, everyDays: 4, weeklyFactor: 1 }),
  ]
  sessions[3].excluded = { reason: 'harness slipped', at: '2026-08-20T10:00:00.000Z' }
  const note: RepetitionNote = {
    id: 'n1',
    atS: 40,
    stance: 'square',
    signs: ['panting', 'looking away'],
    note: null,
    version: 1,
    updatedAt: '2026-09-01T00:00:00.000Z',
  }
  return {
    dog: madeDog({ sessions: sessions.length }),
    plans: [
      madeStoredPlan(2, { validFrom: '2026-10-05', daysPerWeek: 4 }),
      madeStoredPlan(1, { validFrom: '2026-08-01', daysPerWeek: 3 }),
    ],
    sessions,
    diary: [
      entry('d1', {}),
      entry('d2', {
        kind: 'event',
        fromDate: '2026-10-12',
        untilDate: null,
        title: 'Slipped on the stairs',
        dose: null,
        note: 'A little lame for a day.',
      }),
      entry('d3', {
        fromDate: '2026-06-01',
        untilDate: '2026-08-20',
        title: 'Medicine B',
        dose: 'half a tablet',
      }),
    ],
    notes: new Map([
      [sessions[10].id, [note]],
      [sessions[20].id, [{ ...note, stance: 'weight shifted' }]],
    ]),
  }
}

/** Ten set-ups, thirty medications, the longest names and notes, several scripts. */
function fullRecords(): MadeRecords {
  const long = (words: string, length: number) =>
    words.repeat(Math.ceil(length / words.length)).slice(0, length)
  const sessions = Array.from({ length: 10 }, (_, k) =>
    madeCourse(
      {
        exercise: long(`exercise ${k} with fore paws on a board and hind paws on a pad `, 120),
        surface: long(`surface ${k} Schaumstoffkissen ゴム製バランスパッド `, 120),
        foreToHindCm: 50 + k,
        heightCm: 5,
        firmness: 'soft',
      },
      {
        seed: `full-${k}`,
        lastDay: '2026-11-24',
        weeks: 15 - k,
        everyDays: 3,
        sensor: k % 2 ? 'phone' : 'bluetooth',
      },
    ),
  ).flat()
  for (const session of sessions) {
    if (session.sensor === 'phone') session.resolutionMs2 = 0.1
    if (session.checkIn) session.checkIn.note = long('Slow on the stairs, better after lunch. ', 500)
  }
  for (let k = 0; k < 12; k++)
    sessions[k * 7].excluded = { reason: long(`reason ${k} `, 200), at: '2026-09-01T00:00:00Z' }
  return {
    dog: madeDog({
      name: long('Ægir-Þórhallur von Löwenzahn 犬の名前 🐕‍🦺 ', 80),
      breed: long('Donaudampfschifffahrtsgesellschaftshund', 80),
    }),
    plans: Array.from({ length: 6 }, (_, k) =>
      madeStoredPlan(6 - k, {
        validFrom: `2026-${String(11 - k).padStart(2, '0')}-01`,
        setBy: long('Rowan Vale and colleagues ', 120),
      }),
    ),
    sessions,
    diary: Array.from({ length: 60 }, (_, k) =>
      entry(`m${k}`, {
        kind: k < 30 ? 'medication' : 'event',
        fromDate: `2026-0${8 + (k % 2)}-${String(1 + (k % 28)).padStart(2, '0')}`,
        title: `${k} ${long('Arzneimittel mit einem langen Namen 薬 ', 110)}`,
        dose: long('as written on the prescription ', 120),
        note: long('A note that goes on and on. ', 1000),
      }),
    ),
    notes: new Map(),
  }
}

/** A page whose server answers with made records. */
async function openMade(
  records: MadeRecords,
  { width = 1280, questions = '', query = PERIOD, dark = false } = {},
) {
  const opened = await openPage(use.browser, width)
  const { page } = opened
  const id = records.dog.id
  if (dark) await page.emulateMedia({ colorScheme: 'dark' })
  await page.route('**/api/**', async (route) => {
    const url = new URL(route.request().url())
    const path = url.pathname
    const answer = (json: unknown) => route.fulfill({ json })
    if (path === `/api/dogs/${id}`) return answer(records.dog)
    if (path === `/api/dogs/${id}/plans`) return answer(records.plans)
    if (path === '/api/sessions') return answer({ sessions: records.sessions, next: null })
    if (path === `/api/dogs/${id}/diary`) return answer(records.diary)
    if (path.endsWith('/repetition-notes')) return answer(records.notes.get(path.split('/')[3]) ?? [])
    if (path === `/api/dogs/${id}/trends`) {
      const { measure, from, to } = Object.fromEntries(url.searchParams)
      return answer(trendsOfMade(records, measure as MeasureName, { from, to }))
    }
    return route.continue()
  })
  await page.goto(`${use.server.url}/dogs/${id}/report${query}`)
  if (questions) await page.getByLabel('Your questions to the vet').fill(questions)
  await readyToPrint(page)
  return opened
}

async function readyToPrint(page: Page) {
  await page.getByRole('button', { name: 'Print or save as PDF' }).and(page.locator(':enabled')).waitFor()
}

const shots = fileURLToPath(new URL('screenshots/', import.meta.url))

interface Printed {
  pages: number
  sizePt: [number, number]
  text: string
  fontsEmbedded: boolean[]
}

/** The PDF that the page prints, as poppler reads it; a picture of it is kept for people. */
async function printed(page: Page, name: string, format: 'A4' | 'Letter'): Promise<Printed> {
  await mkdir(shots, { recursive: true })
  const path = `${shots}${name}-${format}.pdf`
  await page.getByRole('radio', { name: format }).check()
  await readyToPrint(page)
  await writeFile(path, await page.pdf({ preferCSSPageSize: true }))
  execFileSync('pdftoppm', ['-r', '110', '-png', path, path.replace('.pdf', '')])
  const info = execFileSync('pdfinfo', [path], { encoding: 'utf8' })
  const size = /Page size:\s+([\d.]+) x ([\d.]+) pts/.exec(info)!
  const fonts = execFileSync('pdffonts', [path], { encoding: 'utf8' }).trim().split('\n').slice(2)
  return {
    pages: Number(/Pages:\s+(\d+)/.exec(info)![1]),
    sizePt: [Math.round(Number(size[1])), Math.round(Number(size[2]))],
    text: execFileSync('pdftotext', ['-layout', path, '-'], { encoding: 'utf8' }),
    // Columns from the right: emb sub uni object ID.
    fontsEmbedded: fonts.map((line) => line.trim().split(/\s+/).at(-5) === 'yes'),
  }
}

/** Elements of the paper that stick out of it or of their own box, and words smaller than 8 pt. */
function paperFaults(page: Page): Promise<string[]> {
  return page.evaluate(() => {
    const paper = document.querySelector('.report-paper')!
    const edge = paper.getBoundingClientRect()
    const faults: string[] = []
    for (const element of paper.querySelectorAll<HTMLElement>('*')) {
      const box = element.getBoundingClientRect()
      const what = `${element.tagName}.${element.getAttribute('class') ?? ''} ${element.textContent.slice(0, 40)}`
      if (box.right > edge.right + 1 || box.left < edge.left - 1 || box.bottom > edge.bottom + 1) {
        faults.push(`outside: ${what}`)
      }
      if (
        element instanceof HTMLElement &&
        element.clientWidth > 0 &&
        element.scrollWidth > element.clientWidth + 1
      ) {
        faults.push(`overflows: ${what}`)
      }
      if (element.textContent !== '' && parseFloat(getComputedStyle(element).fontSize) < 10.66) {
        faults.push(`small: ${what}`)
      }
    }
    return faults
  })
}

/** Pairs of lines of words on the paper that cover one another by more than 1 px in both directions. */
function overlaps(page: Page): Promise<string[]> {
  return page.evaluate(() => {
    const lines: { words: string; box: DOMRect }[] = []
    const walker = document.createTreeWalker(document.querySelector('.report-paper')!, NodeFilter.SHOW_TEXT)
    for (let node = walker.nextNode(); node; node = walker.nextNode()) {
      if (node.textContent!.trim() === '') continue
      const range = document.createRange()
      range.selectNodeContents(node)
      for (const box of range.getClientRects()) lines.push({ words: node.textContent!.trim(), box })
    }
    // A box of words is as high as the face allows, a little more than the line: its middle two thirds carry ink.
    const top = (box: DOMRect) => box.top + box.height / 6
    const bottom = (box: DOMRect) => box.bottom - box.height / 6
    const faults: string[] = []
    for (const [k, a] of lines.entries()) {
      for (const b of lines.slice(k + 1)) {
        const wide = Math.min(a.box.right, b.box.right) - Math.max(a.box.left, b.box.left)
        const high = Math.min(bottom(a.box), bottom(b.box)) - Math.max(top(a.box), top(b.box))
        if (wide > 1 && high > 1) faults.push(`${a.words.slice(0, 40)} | ${b.words.slice(0, 40)}`)
      }
    }
    return lines.length === 0 ? ['no words at all'] : faults
  })
}

const squeezed = (text: string) => text.replace(/\s+/g, ' ')

describe.skipIf(!hasPoppler())('the report on paper', () => {
  it.each(PAPERS)('is one $format page with the verdicts and the cautions', async ({ format, sizePt }) => {
    const { page, complaints } = await openMade(usualRecords(), {
      questions: 'May she swim?\nIs the evening dose too late?',
    })
    const { pages, sizePt: size, text, fontsEmbedded } = await printed(page, 'report-usual', format)
    expect(pages).toBe(1)
    // Chromium rounds a page up to whole points.
    expect(Math.abs(size[0] - sizePt[0])).toBeLessThanOrEqual(1)
    expect(Math.abs(size[1] - sizePt[1])).toBeLessThanOrEqual(1)
    expect(fontsEmbedded.length).toBeGreaterThan(0)
    expect(fontsEmbedded).not.toContain(false)
    const words = squeezed(text)
    for (const part of [
      'Juniper',
      'Rowan Vale',
      'Sway: steadier',
      'harness slipped',
      'Medicine A',
      'May she swim?',
    ]) {
      expect(words).toContain(part)
    }
    expect(words).toContain('nothing here is a diagnosis or advice to do more')
    expect(words).not.toMatch(/undefined|NaN|null|\[object|Infinity/)
    // An ordinary dog: both set-ups, both medications, both versions of the plan, the verdicts of both set-ups.
    for (const part of [
      'Stand on foam pad: sway',
      'Fore paws on rocker board: sway',
      'Tremor: no change beyond noise',
      'Smallest detectable',
      'Medicine B',
      'Slipped on the stairs',
      'Plan version 2',
      'Plan version 1',
      'Mornings tired / sore',
    ]) {
      expect(words).toContain(part)
    }
    expect(words).not.toMatch(/Left out to keep one page:[^.]*(set-up|medication|event|plan version|numbers)/)
    await page.emulateMedia({ media: 'print' })
    expect(await paperFaults(page)).toEqual([])
    expect(await overlaps(page)).toEqual([])
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it.each(PAPERS)(
    'stays one $format page with ten set-ups, long words and thirty medications',
    async ({ format }) => {
      const { page, complaints } = await openMade(fullRecords(), {
        questions: 'What about her left hind leg? '.repeat(60),
      })
      const { pages, text } = await printed(page, 'report-full', format)
      expect(pages).toBe(1)
      expect(squeezed(text)).toContain('Left out to keep one page')
      expect(squeezed(text)).toContain('nothing here is a diagnosis or advice to do more')
      await page.emulateMedia({ media: 'print' })
      expect(await paperFaults(page)).toEqual([])
      expect(complaints).toEqual([])
      await page.context().close()
    },
  )
})

describe('the report for a person at a keyboard', () => {
  it('is fitted anew after words and another paper, which is remembered, and is printed by the keyboard', async () => {
    const { page, complaints } = await openMade(usualRecords())
    await typeInto(page, page.getByLabel('Your questions to the vet'), 'May she go back to longer walks?')
    await readyToPrint(page)
    await tabTo(page, page.getByRole('radio', { name: 'A4' }))
    await page.keyboard.press('ArrowDown')
    await readyToPrint(page)
    expect(await page.getByRole('radio', { name: 'Letter' }).isChecked()).toBe(true)
    await page.evaluate(() => {
      window.print = () => document.body.setAttribute('data-printed', 'yes')
    })
    await press(page, page.getByRole('button', { name: 'Print or save as PDF' }))
    expect(await page.locator('body').getAttribute('data-printed')).toBe('yes')
    await page.reload()
    await readyToPrint(page)
    expect(await page.getByRole('radio', { name: 'Letter' }).isChecked()).toBe(true)
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it('is black on white on paper though the screen is dark', async () => {
    const { page } = await openMade(usualRecords(), { dark: true })
    await page.emulateMedia({ media: 'print', colorScheme: 'dark' })
    const colours = await page.evaluate(() => {
      const of = (element: Element) => getComputedStyle(element)
      const words = document.querySelector('.report-paper .cautions p')!
      const picture = document.querySelector('.report-paper svg') ?? words
      return [of(document.body).backgroundColor, of(words).color, of(picture).color]
    })
    expect(colours).toEqual(['rgb(255, 255, 255)', 'rgb(0, 0, 0)', 'rgb(0, 0, 0)'])
    await page.context().close()
  })
})

describe.each(WIDTHS)('the report at %i px', (width) => {
  it('reads the same on the screen, in light and dark, and fits', async () => {
    const { page, complaints } = await openMade(usualRecords(), { width })
    for (const colorScheme of ['light', 'dark'] as const) {
      await page.emulateMedia({ colorScheme })
      await keepPicture(page, `report-${width}-${colorScheme}`)
      expect(await fitsWidth(page)).toBe(true)
      expect(await accessibilityFaults(page)).toEqual([])
    }
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it('says what is missing for a dog without anything, from the real server', async () => {
    const body = JSON.stringify({ name: `Sorrel ${width}` })
    const headers = { 'content-type': 'application/json' }
    const dog = await fetch(`${use.server.url}/api/dogs`, { method: 'POST', headers, body })
    const { id } = (await dog.json()) as { id: string }
    const { page, complaints } = await openPage(use.browser, width)
    await page.goto(`${use.server.url}/dogs/${id}/report`)
    await readyToPrint(page)
    const words = await page.locator('article').innerText()
    for (const part of ['not noted: breed', 'No plan was given', 'No session', 'Nobody noted how']) {
      expect(words).toContain(part)
    }
    expect(words).not.toMatch(/undefined|NaN|null/)
    expect(await accessibilityFaults(page)).toEqual([])
    expect(complaints).toEqual([])
    await page.context().close()
  })
})
