import type { Locator, Page } from 'playwright-core'

/** Shows what has the focus, and fails where that cannot be seen. */
async function focusFault(page: Page): Promise<string | null> {
  return page.evaluate(() => {
    const element = document.activeElement
    if (!element || element === document.body || element.id === 'main') return null
    const { outlineStyle, outlineWidth } = getComputedStyle(element)
    const box = element.getBoundingClientRect()
    const seen = outlineStyle !== 'none' && Number.parseFloat(outlineWidth) >= 2
    const inSight = box.width > 0 && box.bottom > 0 && box.top < innerHeight
    const label = (element as HTMLInputElement).labels?.[0]?.textContent ?? element.textContent ?? ''
    const name = `${element.tagName} ${element.getAttribute('type') ?? ''} ${label.trim().slice(0, 40)}`
    if (!seen) return `${name}: no outline`
    return inSight ? null : `${name}: out of sight`
  })
}

/** Goes on with the Tab key until the target has the focus; every stop on the way must be seen. */
export async function tabTo(page: Page, target: Locator, most = 120): Promise<void> {
  await target.waitFor()
  for (let presses = 0; ; presses++) {
    if (await target.evaluate((element) => element === document.activeElement)) return
    if (presses === most) throw new Error(`not reached by ${most} presses of Tab: ${target.toString()}`)
    await page.keyboard.press('Tab')
    const fault = await focusFault(page)
    if (fault) throw new Error(`focus that cannot be seen: ${fault}`)
  }
}

/** Goes there and presses it: links and buttons with Enter, boxes and radios with the space bar. */
export async function press(page: Page, target: Locator, key: 'Enter' | 'Space' = 'Enter'): Promise<void> {
  await tabTo(page, target)
  await page.keyboard.press(key)
}

/** Goes to a field and types, in place of what stands there. */
export async function typeInto(page: Page, field: Locator, text: string): Promise<void> {
  await tabTo(page, field)
  await page.keyboard.press('ControlOrMeta+a')
  await page.keyboard.type(text)
}
