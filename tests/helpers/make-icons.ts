/**
 * Draws the icons of the installed dashboard from our own mark, dashboard/public/mark.svg, in Chromium:
 * `node --conditions=source --import tsx tests/helpers/make-icons.ts`
 */
import { readFile } from 'node:fs/promises'
import { fileURLToPath } from 'node:url'
import { launchChromium } from './browser.ts'

const folder = fileURLToPath(new URL('../../dashboard/public/', import.meta.url))
const mark = await readFile(`${folder}mark.svg`, 'utf8')
/**
 * Of a maskable icon only a circle of 80 % of its width is sure to be seen (W3C, Web App Manifest; from memory).
 * The mark at this share of the width has all its lines inside.
 */
const MASKABLE_SHARE = 0.68
const GROUND = '#22304a'

const browser = await launchChromium()
const page = await browser.newPage()
for (const { file, px, maskable } of [
  { file: 'icon-192.png', px: 192, maskable: false },
  { file: 'icon-512.png', px: 512, maskable: false },
  { file: 'icon-maskable-512.png', px: 512, maskable: true },
]) {
  const side = maskable ? px * MASKABLE_SHARE : px
  await page.setViewportSize({ width: px, height: px })
  await page.setContent(
    `<body style="margin:0;display:grid;place-items:center;height:100vh;background:${maskable ? GROUND : 'transparent'}">
      <div style="width:${side}px;height:${side}px">${mark.replace('<svg ', '<svg width="100%" height="100%" ')}</div>
    </body>`,
  )
  await page.screenshot({ path: folder + file, omitBackground: !maskable })
}
await browser.close()
