import { createHash, X509Certificate } from 'node:crypto'
import { createServer } from 'node:net'
import type { AddressInfo } from 'node:net'
import { once } from 'node:events'
import type { Browser, Page } from 'playwright-core'
import { describe, expect, it, onTestFinished } from 'vitest'
import type { ServerToSender, ServerToViewer } from '#protocol/messages'
import type { Pairing } from '#protocol/resources'
import { temporaryDir, testApp } from '../helpers/build-app.ts'
import { launchChromium, openPage } from '../helpers/browser.ts'
import { madeCertificate } from '../helpers/certificate.ts'
import { frame, helloMessage, LiveClient } from '../helpers/live-client.ts'
import { hasOpenssl } from '../helpers/openssl.mjs'
import { LYING, MovedPhone, STANDING } from './moved-phone.ts'

async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1')
  await once(server, 'listening')
  const { port } = server.address() as AddressInfo
  server.close()
  await once(server, 'close')
  return port
}

const SIGN_IN = { signInName: 'owner', password: 'four paws on a soft pad' }

/** A server with a certificate of its own under a name, and a browser that was told to trust exactly that key. */
async function httpsServer() {
  const dir = await temporaryDir()
  const tlsFiles = await madeCertificate(dir)
  const port = await freePort()
  const url = `https://dogs.test:${port}`
  const app = await testApp({ exposure: 'tls', tlsFiles, publicOrigins: [url], dataDir: dir })
  const { people } = app.store
  const { id } = await people.keeper()
  const passwordHash = await app.signIns.passwords.hash(SIGN_IN.password)
  const { signInName } = SIGN_IN
  await people.setPassword(id, { passwordHash, signInName }, { name: 'test', personId: id })
  await app.listen({ host: '127.0.0.1', port })
  const spki = new X509Certificate(tlsFiles.ca).publicKey.export({ type: 'spki', format: 'der' })
  const browser = await launchChromium({
    args: [
      '--host-resolver-rules=MAP dogs.test 127.0.0.1',
      // As a person does who looked at the fingerprint; without it there is no service worker.
      `--ignore-certificate-errors-spki-list=${createHash('sha256').update(spki).digest('base64')}`,
    ],
  })
  onTestFinished(() => browser.close())
  const socket = {
    ca: tlsFiles.ca,
    lookup: undefined,
    servername: 'dogs.test',
    headers: { host: `dogs.test:${port}` },
  }
  return { app, url, browser, wssUrl: `wss://127.0.0.1:${port}`, socket }
}

async function posted<T>(page: Page, url: string, data?: object): Promise<T> {
  return page.evaluate(
    async ({ url, data }) => {
      const json = data && { headers: { 'content-type': 'application/json' }, body: JSON.stringify(data) }
      const answer = await fetch(url, { method: 'POST', ...json })
      if (!answer.ok) throw new Error(await answer.text())
      return answer.json()
    },
    { url, data },
  )
}

async function openHome(browser: Browser, url: string, width: number) {
  const opened = await openPage(browser, width, { serviceWorkers: 'allow' })
  const { page } = opened
  await page.goto(`${url}/api/health`)
  await posted(page, '/api/sign-in', SIGN_IN)
  // A page of bare JSON asks for an icon that is not there.
  opened.complaints.length = 0
  await page.goto(url)
  await page.getByRole('heading', { level: 1 }).waitFor()
  const cookie = (await page.context().cookies(url)).map(({ name, value }) => `${name}=${value}`).join('; ')
  return { ...opened, cookie }
}

describe.skipIf(!hasOpenssl())('over HTTPS under a name of its own', () => {
  it('screens, a live session by wss and the service worker work, without a complaint', async () => {
    const { url, browser, wssUrl, socket: plain } = await httpsServer()
    const { page, complaints, cookie } = await openHome(browser, url, 1280)
    expect(cookie).toMatch(/^__Host-swaybook_sign_in=/)
    const socket = { ...plain, headers: { ...plain.headers, cookie } }
    expect(await page.evaluate(() => window.isSecureContext)).toBe(true)

    const dog = await posted<{ id: string }>(page, '/api/dogs', { name: 'Juniper' })
    const session = await posted<{ id: string }>(page, '/api/sessions', {
      dogId: dog.id,
      sensor: 'simulated harness',
    })
    await page.goto(`${url}/live/${session.id}`)
    const sender = await new LiveClient<ServerToSender>(`${wssUrl}/api/live/send`, socket).opened()
    sender.send(helloMessage(session.id))
    await sender.next('welcome')
    for (let k = 0; k < 300; k += 10) sender.socket.send(frame(k, 10))
    await sender.next('ack', ({ nextIndex }) => nextIndex === 300)
    await page.locator('.word').filter({ hasText: /\w/ }).waitFor()
    const viewer = await new LiveClient<ServerToViewer>(
      `${wssUrl}/api/live/watch?session=${session.id}`,
      socket,
    ).opened()
    await viewer.next('snapshot')

    await page.evaluate(() => navigator.serviceWorker.ready)
    await page.goto(`${url}/dogs/${dog.id}`)
    await page.getByRole('heading', { level: 1, name: 'Juniper' }).waitFor()
    await expect.poll(() => page.evaluate(() => navigator.serviceWorker.controller !== null)).toBe(true)
    expect(complaints).toEqual([])
    await page.context().setOffline(true)
    await page.goto(`${url}/numbers`)
    await page.getByRole('heading', { level: 1 }).waitFor()
    await page.context().close()
  })

  it('a phone in the same network records through the link it was shown', async () => {
    const { url, browser, app } = await httpsServer()
    const therapist = await openHome(browser, url, 1280)
    const dog = await posted<{ id: string }>(therapist.page, '/api/dogs', { name: 'Juniper' })
    const { id } = await posted<{ id: string }>(therapist.page, '/api/sessions', {
      dogId: dog.id,
      sensor: 'phone',
    })
    const { secret } = await posted<Pairing>(therapist.page, `/api/sessions/${id}/pairing`)
    const { page, complaints } = await openPage(browser, 390)
    await page.context().grantPermissions(['accelerometer', 'gyroscope'])
    const moved = await MovedPhone.of(page, LYING)
    await page.goto(`${url}/phone#${secret}`)
    await page.getByRole('button', { name: 'Allow motion data' }).click()
    await page.getByRole('button', { name: 'It lies flat: measure' }).click()
    await page.getByLabel('On the back: screen up, top of the phone to the head').check({ timeout: 60_000 })
    await page.getByRole('button', { name: 'Next: sound' }).click()
    await page.getByRole('button', { name: 'Play the notes' }).click()
    await page.getByRole('button', { name: 'I heard them' }).click()
    await page.getByRole('button', { name: 'Start', exact: true }).click()
    moved.motion = STANDING
    await therapist.page.goto(`${url}/live/${id}`)
    await therapist.page
      .locator('.word')
      .filter({ hasText: /steady|moving/ })
      .waitFor({ timeout: 60_000 })
    await page.getByText('Everything so far is stored').waitFor({ timeout: 60_000 })
    await page.getByRole('button', { name: /to stop/ }).focus()
    await page.keyboard.down('Enter')
    await page.getByRole('heading', { name: 'Saved' }).waitFor({ timeout: 60_000 })
    await page.keyboard.up('Enter')
    expect(await app.store.records.session(id)).toMatchObject({ state: 'finished', sensor: 'phone' })
    expect([complaints, therapist.complaints]).toEqual([[], []])
    moved.stop()
    await page.context().close()
    await therapist.page.context().close()
  })
})
