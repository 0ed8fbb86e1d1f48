import type { Page } from 'playwright-core'
import { expect, it } from 'vitest'
import { browserAndServer } from '../helpers/browser-and-server.ts'
import { fitsWidth, openPage, WIDTHS } from '../helpers/browser.ts'
import { madePlan } from '../helpers/made-plan.ts'

const use = browserAndServer()

/** The innermost elements that reach beyond the right edge, for the message of a failure. */
const widest = (page: Page) =>
  page.evaluate(() => {
    const beyond = (element: Element) => element.getBoundingClientRect().right > innerWidth + 1
    return [...document.querySelectorAll('main *')]
      .filter((element) => beyond(element) && ![...element.children].some(beyond))
      .map((element) => `${element.tagName} ${element.textContent.trim().slice(0, 40)}`)
  })

/** As long as each may be, without a place to break a line at. */
const NAME = 'W'.repeat(80)
const SET_UP = { exercise: 'm'.repeat(120), surface: 'n'.repeat(120) }

it.each(WIDTHS)('endless names made dog, start and report wider than the screen, at %i px', async (width) => {
  const { page } = await openPage(use.browser, width)
  const api = `${use.server.url}/api`
  const dog = { name: NAME, breed: 'B'.repeat(80), notes: 'k'.repeat(300) }
  const { id } = (await (await page.request.post(`${api}/dogs`, { data: dog })).json()) as { id: string }
  const [exercise] = madePlan().exercises
  const plan = madePlan({ exercises: [{ ...exercise, setUp: SET_UP, notes: 'o'.repeat(500) }] })
  const headers = { 'if-none-match': '*' }
  expect((await page.request.put(`${api}/dogs/${id}/plan`, { data: plan, headers })).ok()).toBe(true)
  const rows = Array.from({ length: 1500 }, (_, i) => `${i / 50},${Math.sin(i / 9) / 50},0,9.81`)
  const file = {
    name: 'a.csv',
    mimeType: 'text/csv',
    buffer: Buffer.from(`t,ax,ay,az\n${rows.join('\n')}\n`),
  }
  const startedAt = new Date(Date.now() - 86_400_000).toISOString()
  const multipart = { ...SET_UP, startedAt, unit: 'm/s2', file }
  expect((await page.request.post(`${api}/dogs/${id}/traces`, { multipart })).status()).toBe(201)
  for (const screen of ['', '/record', '/report', '/trends', '/diary', '/plan']) {
    await page.goto(`${use.server.url}/dogs/${id}${screen}`)
    await page.getByText(SET_UP.exercise.slice(1, 60)).first().waitFor({ state: 'attached' })
    const wide = (await fitsWidth(page)) ? [] : await widest(page)
    expect([screen, wide]).toEqual([screen, []])
  }
  await page.context().close()
})
