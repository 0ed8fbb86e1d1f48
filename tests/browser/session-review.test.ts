import { describe, expect, it } from 'vitest'
import { accessibilityFaults, fitsWidth, keepPicture, openPage, WIDTHS } from '../helpers/browser.ts'
import { browserAndServer } from '../helpers/browser-and-server.ts'
import { isSaved, openReview, placeOf, sessionsOf, stored } from '../helpers/session-review.ts'

const use = browserAndServer()

describe.each(WIDTHS)('correcting a session at %i px', (width) => {
  it('an edge that is dragged is set by a person, measured again, undone and done again', async () => {
    const [session] = await sessionsOf(use.server.url, `Drag ${width}`, ['foam-hands-off.csv'])
    const server = stored(use.server.url, session.id)
    const found = (await server.report()).holds[1]
    const { page, complaints } = await openPage(use.browser, width)
    const lanes = await openReview(page, use.server.url, session.id)

    // Chosen as a whole first, then by the handle that stands outside it.
    const begin = await placeOf(lanes, /^Hold 2 begins/)
    const end = await placeOf(lanes, /^Hold 2 ends/)
    await page.mouse.click((begin.x + end.x) / 2, begin.y)
    await page
      .getByRole('heading', { name: /^Hold 2: / })
      .first()
      .waitFor()
    await page.mouse.move(begin.x - 14, begin.y)
    await page.mouse.down()
    await page.mouse.move(begin.x + 2, begin.y, { steps: 4 })
    await page.mouse.move(begin.x + 6, begin.y, { steps: 4 })
    await keepPicture(page, `review-drag-${width}`)
    await page.mouse.up()
    await page.getByRole('button', { name: /^Undo: hold 2 begins at/ }).waitFor()
    await isSaved(page)
    const [edit] = (await server.edits()).holds
    expect(edit).toMatchObject({ kind: 'set', toS: expect.closeTo(found.toS, 1) as number })
    expect(edit.fromS).toBeGreaterThan(found.fromS)
    const after = (await server.report()).holds[1]
    expect(after.setBy).toBe('person')
    expect(after.fromS).toBeCloseTo(edit.fromS, 1)
    const row = page.getByRole('table').filter({ hasText: 'Ended by' }).locator('tbody tr').nth(1)
    expect(await row.innerText()).toContain('set by a person')

    await page.keyboard.press('Control+z')
    await page
      .getByRole('status')
      .filter({ hasText: /^Undone: hold 2 begins at/ })
      .waitFor()
    await isSaved(page)
    await expect.poll(async () => (await server.edits()).holds).toEqual([])
    expect((await server.report()).holds[1].durationS).toBeCloseTo(found.durationS, 6)
    await page.keyboard.press('Control+Shift+z')
    await expect.poll(async () => (await server.edits()).holds.length).toBe(1)
    await isSaved(page)
    await keepPicture(page, `review-${width}`)
    expect(await fitsWidth(page)).toBe(true)
    expect(await accessibilityFaults(page)).toEqual([])
    expect(complaints).toEqual([])
    await page.context().close()
  })

  it('everything can be done with the keyboard alone', async () => {
    const [session] = await sessionsOf(use.server.url, `Keys ${width}`, ['foam-hands-off.csv'])
    const server = stored(use.server.url, session.id)
    const before = await server.edits()
    const { page } = await openPage(use.browser, width)
    const lanes = await openReview(page, use.server.url, session.id)
    const found = await server.report()

    await lanes.getByRole('option').first().focus()
    const focused = () => page.evaluate(() => document.activeElement?.getAttribute('aria-label') ?? '')
    for (let k = 0; k < 40 && !/^Hold 3 ends/.test(await focused()); k++)
      await page.keyboard.press('ArrowDown')
    expect(await focused()).toMatch(/^Hold 3 ends, found/)
    await page.keyboard.press('Shift+ArrowLeft')
    await page.keyboard.press('ArrowLeft')
    await page.keyboard.press('Alt+ArrowLeft')
    expect(await focused()).toMatch(/^Hold 3 ends, set by a person/)
    await isSaved(page)
    expect((await server.edits()).holds[0].toS).toBeCloseTo(found.holds[2].toS - 1.12, 1)

    // Enter goes to the fields, Escape back to the lanes.
    await page.keyboard.press('Enter')
    expect(await page.getByLabel('Ends, m:ss.s').evaluate((field) => field === document.activeElement)).toBe(
      true,
    )
    await page.keyboard.press('Escape')
    expect(await focused()).toMatch(/^Hold 3 ends/)

    await page.keyboard.press('Delete')
    await page.getByText('Left out by a person: no hold', { exact: false }).waitFor()
    await isSaved(page)
    const out = await server.report()
    expect(out.session.leftOutHolds).toHaveLength(1)
    expect(out.holds).toHaveLength(found.holds.length - 1)
    const leftOut = page.getByRole('region', { name: 'What was left out, and why' })
    expect(await leftOut.innerText()).toContain('by a person: no hold')
    await page.getByRole('button', { name: 'Bring it back' }).focus()
    await page.keyboard.press('Enter')
    await isSaved(page)
    expect((await server.report()).session.leftOutHolds ?? []).toEqual([])

    // A mark: moved, then removed.
    await lanes
      .getByRole('option', { name: /^Hands-off/ })
      .first()
      .focus()
    const was = await focused()
    await page.keyboard.press('ArrowRight')
    expect(await focused()).not.toBe(was)
    await page.keyboard.press('Delete')
    await isSaved(page)
    expect((await server.edits()).marks).toHaveLength(before.marks.length - 1)
    while (await page.getByRole('button', { name: /^Undo: / }).isVisible())
      await page.keyboard.press('Control+z')
    await isSaved(page)
    await expect.poll(async () => (await server.edits()).marks).toEqual(before.marks)
    expect((await server.edits()).holds).toEqual([])
    await page.context().close()
  })

  it('a finger can take a mark, and Escape leaves a drag', async () => {
    const [session] = await sessionsOf(use.server.url, `Touch ${width}`, ['foam-hands-off.csv'])
    const server = stored(use.server.url, session.id)
    const before = await server.edits()
    const { page } = await openPage(use.browser, width)
    const lanes = await openReview(page, use.server.url, session.id)
    const devtools = await page.context().newCDPSession(page)
    const touch = (type: 'touchStart' | 'touchMove' | 'touchEnd', at?: { x: number; y: number }) =>
      devtools.send('Input.dispatchTouchEvent', { type, touchPoints: at ? [at] : [] })
    const off = await placeOf(lanes, /^Repetition starts/)
    await touch('touchStart', { x: off.x + 8, y: off.y })
    for (let k = 1; k <= 6; k++) await touch('touchMove', { x: off.x + 8 - k * 4, y: off.y })
    await touch('touchEnd')
    await page.getByRole('button', { name: /^Undo: repetition starts at/ }).waitFor()
    await isSaved(page)
    const moved = (await server.edits()).marks.find(({ kind }) => kind === 'repetition-start')!
    const was = before.marks.find(({ kind }) => kind === 'repetition-start')!
    expect(moved.atS).toBeLessThan(was.atS)

    const there = await placeOf(lanes, /^Repetition starts/)
    await page.mouse.move(there.x, there.y)
    await page.mouse.down()
    await page.mouse.move(there.x - 20, there.y, { steps: 4 })
    await page.keyboard.press('Escape')
    await page.mouse.up()
    await isSaved(page)
    expect((await server.edits()).version).toBe(before.version + 1)
    await page.context().close()
  })

  it('two people on one session: theirs is shown, mine goes on top', async () => {
    const [session] = await sessionsOf(use.server.url, `Both ${width}`, ['foam-hands-off.csv'])
    const server = stored(use.server.url, session.id)
    const before = await server.edits()
    const mine = await openPage(use.browser, width)
    const theirs = await openPage(use.browser, width)
    const myLanes = await openReview(mine.page, use.server.url, session.id)
    const theirLanes = await openReview(theirs.page, use.server.url, session.id)

    await theirLanes.getByRole('option', { name: /^Hold 3 begins/ }).focus()
    await theirs.page.keyboard.press('Shift+ArrowRight')
    await isSaved(theirs.page)
    await myLanes
      .getByRole('option', { name: /^Repetition starts/ })
      .first()
      .focus()
    await mine.page.keyboard.press('ArrowLeft')
    const alert = mine.page.getByRole('alert').filter({ hasText: 'Somebody else changed this session' })
    await alert.waitFor()
    expect(await alert.innerText()).toMatch(/They did:[\s\S]*hold set[\s\S]*You did:[\s\S]*repetition starts/)
    await keepPicture(mine.page, `review-conflict-${width}`)
    expect(await fitsWidth(mine.page)).toBe(true)
    expect(await accessibilityFaults(mine.page)).toEqual([])
    await mine.page.getByRole('button', { name: 'Put mine on top of theirs' }).click()
    await isSaved(mine.page)
    const now = await server.edits()
    expect(now.holds).toHaveLength(1)
    const startOf = (marks: typeof now.marks) => marks.find(({ kind }) => kind === 'repetition-start')!.atS
    expect(startOf(now.marks)).toBeCloseTo(startOf(before.marks) - 0.1, 3)
    await mine.page.context().close()
    await theirs.page.context().close()
  })

  it('without the server nothing is lost: kept, tried again, and offered by the next page', async () => {
    const [session] = await sessionsOf(use.server.url, `Away ${width}`, ['foam-hands-off.csv'])
    const server = stored(use.server.url, session.id)
    const { page } = await openPage(use.browser, width)
    const lanes = await openReview(page, use.server.url, session.id)
    const away = '**/edits'
    await page.route(away, (route) => route.abort('internetdisconnected'))
    await lanes.getByRole('option', { name: /^Hold 2 begins/ }).focus()
    await page.keyboard.press('Shift+ArrowRight')
    const alert = page.getByRole('alert').filter({ hasText: 'Your changes are not saved yet' })
    await alert.waitFor()
    await page.getByText('figures are from before your changes', { exact: false }).waitFor()
    await keepPicture(page, `review-not-saved-${width}`)
    expect(await accessibilityFaults(page)).toEqual([])
    expect((await server.edits()).holds).toEqual([])

    // Leaving asks first.
    let asked = ''
    page.once('dialog', (dialog) => {
      asked = dialog.message()
      void dialog.dismiss()
    })
    await page
      .getByRole('link', { name: `Away ${width}` })
      .first()
      .click()
    await expect.poll(() => asked).toContain('not saved yet')
    expect(page.url()).toContain(session.id)

    // A page that is gone all the same: the next one on this device offers what was left.
    await page.unroute(away)
    const next = await page.context().newPage()
    await openReview(next, use.server.url, session.id)
    const left = next.getByRole('alert').filter({ hasText: 'Changes of an earlier visit' })
    await left.waitFor()
    expect(await left.innerText()).toContain('hold set')
    await next.close()

    await alert.getByRole('button', { name: 'Try again' }).click()
    await isSaved(page)
    expect((await server.edits()).holds).toHaveLength(1)
    await page.context().close()
  })

  it('a repetition takes stance, signs and a note; the session takes notes and an exclusion', async () => {
    const [session, other] = await sessionsOf(use.server.url, `Notes ${width}`, [
      'foam-hands-off.csv',
      'foam-hand-support.tsv',
    ])
    const server = stored(use.server.url, session.id)
    const { page, complaints } = await openPage(use.browser, width)
    await openReview(page, use.server.url, session.id)
    await page.getByRole('button', { name: /^Note stance and signs ?, repetition 2/ }).click()
    const form = page.getByRole('form', { name: 'Note on repetition 2' })
    await form.getByLabel('How the dog stood').selectOption('hind feet tucked under')
    await form.getByLabel('shuffling').check()
    await form.getByLabel('Note').fill('wanted down')
    await keepPicture(page, `review-note-${width}`)
    expect(await accessibilityFaults(page)).toEqual([])
    await form.getByRole('button', { name: 'Save this note' }).click()
    const repetitions = page.getByRole('region', { name: 'Repetitions, table' })
    await repetitions.getByText('hind feet tucked under; shuffling; wanted down').waitFor()

    await page.getByLabel('Notes on this session').fill('A calm evening.')
    await page.getByText('Saved.', { exact: true }).waitFor()
    await page.getByRole('button', { name: 'Leave this session out of the trends' }).click()
    await page.getByLabel('Why it should not count').last().selectOption('stopped early')
    await page.getByRole('button', { name: 'Leave it out' }).last().click()
    await page.getByText('Left out by a person since', { exact: false }).waitFor()
    await page.getByRole('button', { name: 'They were as noted' }).click()
    await page.getByText('Confirmed', { exact: false }).first().waitFor()
    expect(await server.summary()).toMatchObject({
      notes: 'A calm evening.',
      excluded: { reason: 'stopped early' },
      setUpConfirmedAt: expect.any(String) as string,
    })

    const beside = page.getByRole('region', { name: 'Compare with an earlier session' })
    expect(await beside.getByRole('combobox').inputValue()).toBe(other.id)
    expect(await beside.innerText()).toContain('the noise of this set-up is not known yet')
    await keepPicture(page, `review-whole-${width}`)
    expect(await fitsWidth(page)).toBe(true)
    expect(await accessibilityFaults(page)).toEqual([])
    await page.getByRole('button', { name: 'Take it in again' }).click()
    await expect.poll(async () => (await server.summary()).excluded).toBeNull()
    expect(complaints).toEqual([])
    await page.context().close()
  })
})
