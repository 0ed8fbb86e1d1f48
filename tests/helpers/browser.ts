import { readFileSync } from 'node:fs'
import { mkdir } from 'node:fs/promises'
import { createRequire } from 'node:module'
import { fileURLToPath } from 'node:url'
import type Axe from 'axe-core'
import { chromium } from 'playwright-core'
import type { Browser, Page } from 'playwright-core'

export const WIDTHS = [1280, 390] as const

const FLAGS = [
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
]

/** The machine's Chromium, headless; more flags and more environment when a test needs them. */
export function launchChromium(
  more: { args?: readonly string[]; env?: Readonly<Record<string, string>> } = {},
): Promise<Browser> {
  return chromium.launch({
    executablePath: process.env.SWAYBOOK_CHROMIUM || '/usr/bin/chromium',
    args: [...FLAGS, ...(more.args ?? [])],
    ...(more.env && { env: { ...process.env, ...more.env } as Record<string, string> }),
  })
}

/**
 * A page of the given width in a context of its own, with everything its console complained about.
 * Without the service worker unless a test is about it: each context would install one anew.
 */
export async function openPage(
  browser: Browser,
  width: number,
  { serviceWorkers = 'block' as 'allow' | 'block' } = {},
): Promise<{ page: Page; complaints: string[] }> {
  const context = await browser.newContext({
    viewport: { width, height: width < 600 ? 844 : 800 },
    locale: 'en-GB',
  })
  // Taken away instead of blocked: Playwright's block warns on the console and answers with nothing.
  if (serviceWorkers === 'block') {
    await context.addInitScript(() => void Reflect.deleteProperty(Navigator.prototype, 'serviceWorker'))
  }
  const page = await context.newPage()
  const complaints: string[] = []
  page.on('console', (message) => {
    if (message.type() === 'error' || message.type() === 'warning') complaints.push(message.text())
  })
  page.on('pageerror', (error) => complaints.push(error.message))
  return { page, complaints }
}

/** Keeps a picture for people to look at; tests/browser/screenshots is not committed. */
export async function keepPicture(page: Page, name: string): Promise<void> {
  const folder = fileURLToPath(new URL('../browser/screenshots/', import.meta.url))
  await mkdir(folder, { recursive: true })
  await page.screenshot({ path: `${folder}${name}.png`, fullPage: true })
}

/** True when nothing sticks out to the right: the page must not scroll sideways. */
export function fitsWidth(page: Page): Promise<boolean> {
  return page.evaluate(() => document.documentElement.scrollWidth <= window.innerWidth)
}

const axeSource = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')

/** What axe-core finds against WCAG 2.2 AA on the page as it is: rule and element, empty when clean. */
export async function accessibilityFaults(page: Page): Promise<string[]> {
  // Evaluated, not added as a script: the page's own content policy stays in force.
  await page.evaluate(axeSource)
  return page.evaluate(async () => {
    const { axe } = window as unknown as { axe: typeof Axe }
    const tags = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']
    const { violations } = await axe.run({ runOnly: { type: 'tag', values: tags } })
    return violations.flatMap(({ id, nodes }) => nodes.map(({ target }) => `${id}: ${target.join(' ')}`))
  })
}
