import { mkdir } from 'node:fs/promises'
import type { Page } from 'playwright-core'
import { accessibilityFaults, fitsWidth, launchChromium } from './helpers/browser.ts'
import { startServer } from './helpers/running-server.ts'

const only = process.argv[2]
const server = await startServer()
const browser = await launchChromium()
const post = async (path: string, body: object) =>
  (await (await fetch(server.url + path, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) })).json()) as { id: string }
const dog = await post('/api/dogs', { name: 'Juniper', breed: 'Lurcher' })
await mkdir('/tmp/screens', { recursive: true })
const soon = new Date(Date.now() + 7 * 86400e3).toISOString()
const past = new Date(Date.now() - 86400e3).toISOString()
const SECRET = 'a'.repeat(43)
const owner = { id: 'p1', name: 'Alba Finch', signInName: 'alba', keeper: true, hasSecondFactor: false }
const me = { person: owner, via: 'sign-in', passwordSet: true, shared: null }
const out = { person: null, via: null, passwordSet: true, shared: null }
const here = { person: { ...owner, name: 'Owner', signInName: 'owner' }, via: 'this computer', passwordSet: false, shared: null }
const json = (body: unknown, status = 200, headers = {}) => ({ status, contentType: 'application/json', body: JSON.stringify(body), headers })
const problem = (status: number, code: string, detail: string, more = {}) => json({ type: 'about:blank', title: 'x', status, code, detail, ...more }, status)
type Answers = Record<string, object>
const people = [
  { personId: 'p1', name: 'Alba Finch', signInName: 'alba', role: 'owner', since: past },
  { personId: 'p2', name: 'Rowan Vale', signInName: 'rowan', role: 'therapist', since: past },
  { personId: 'p3', name: 'Sorrel Marsh', signInName: 'sorrel@example.org', role: 'viewer', since: past },
]
const shares = [
  { id: 's1', kind: 'report', from: '2026-09-05', to: '2026-11-27', createdBy: 'Alba Finch', createdAt: past, expiresAt: soon, revokedAt: null, opened: 2, lastOpenedAt: past },
  { id: 's2', kind: 'live', sessionId: 'x', createdBy: 'Rowan Vale', createdAt: past, expiresAt: past, revokedAt: null, opened: 0, lastOpenedAt: null },
]
const base: Answers = {
  'GET /api/me': json(me),
  [`GET /api/dogs/${dog.id}/people`]: json(people),
  [`GET /api/dogs/${dog.id}/shares`]: json(shares),
  [`GET /api/dogs/${dog.id}/invitations`]: json([{ id: 'i1', role: 'viewer', note: 'neighbour who walks her', invitedBy: 'Alba Finch', createdAt: past, expiresAt: soon }]),
  [`POST /api/dogs/${dog.id}/invitations`]: json({ id: 'i2', role: 'therapist', note: null, invitedBy: 'Alba', createdAt: past, expiresAt: soon, secret: SECRET }),
  'GET /api/me/sign-ins': json([
    { id: 'a', createdAt: past, lastSeenAt: past, device: 'Firefox on Linux', current: true },
    { id: 'b', createdAt: past, lastSeenAt: past, device: 'Safari on iPhone', current: false },
  ]),
  'POST /api/me/second-factor': json({ secret: 'JBSWY3DPEHPK3PXPJBSWY3DPEHPK3PXP', uri: 'otpauth://totp/Swaybook:alba?secret=JBSWY3DPEHPK3PXPJBSWY3DPEHPK3PXP&issuer=Swaybook' }),
  'PUT /api/me/second-factor': json({ ...me, person: { ...owner, hasSecondFactor: true }, recoveryCodes: ['k3f9-2mxa', 'p7qd-88hs', 'zz41-lq0w', 'm2n8-vv3c', 'a9s8-d7f6', 'qw12-er34', 'ty56-ui78', 'op90-as12'] }),
  'GET /api/people': json([
    { ...owner, lockedAt: null, lastSeenAt: past, dogs: [{ dogId: dog.id, name: 'Juniper', role: 'owner' }] },
    { id: 'p2', name: 'Rowan Vale', signInName: 'rowan', keeper: false, lockedAt: null, lastSeenAt: past, dogs: [{ dogId: dog.id, name: 'Juniper', role: 'therapist' }] },
    { id: 'p3', name: 'Sorrel Marsh', signInName: 'sorrel@example.org', keeper: false, lockedAt: past, lastSeenAt: null, dogs: [] },
  ]),
  'GET /api/audit': json({ entries: [
    { seq: 5, at: past, actor: 'Alba Finch', action: 'invitation.created', dogId: dog.id, detail: { role: 'therapist' } },
    { seq: 4, at: past, actor: 'nobody', action: 'sign-in.failed', dogId: null, detail: { signInName: 'alba' } },
    { seq: 3, at: past, actor: 'Alba Finch', action: 'sign-in.begun', dogId: null, detail: {} },
  ], next: null }),
  'POST /api/invitations/look': json({ dogName: 'Juniper', role: 'therapist', invitedBy: 'Alba Finch', expiresAt: soon, reset: false }),
}
const shots: { name: string; path: string; answers?: Answers; act?: (page: Page) => Promise<unknown> }[] = [
  { name: 'sign-in', path: '/', answers: { 'GET /api/me': json(out) } },
  { name: 'sign-in-locked', path: '/sign-in', answers: { 'GET /api/me': json(out), 'POST /api/sign-in': { ...problem(429, 'SIGN_IN_LOCKED', 'Too many tries for this sign-in name.'), headers: { 'retry-after': '61' } } }, act: async (p) => { await p.getByLabel('Sign-in name').fill('alba'); await p.getByLabel('Password').fill('x'); await p.getByRole('button', { name: 'Sign in' }).click(); await p.getByText(/next try/).waitFor() } },
  { name: 'sign-in-code', path: '/sign-in', answers: { 'GET /api/me': json(out), 'POST /api/sign-in': problem(401, 'CODE_NEEDED', 'A code is needed.') }, act: async (p) => { await p.getByLabel('Sign-in name').fill('alba'); await p.getByLabel('Password').fill('x'); await p.getByRole('button', { name: 'Sign in' }).click(); await p.getByLabel('Code').waitFor() } },
  { name: 'home-no-password', path: '/', answers: { 'GET /api/me': json(here) } },
  { name: 'first-password', path: '/account', answers: { 'GET /api/me': json(here) } },
  { name: 'account', path: '/account' },
  { name: 'account-codes', path: '/account', act: async (p) => { await p.getByRole('button', { name: 'Set up codes' }).click(); await p.getByText('1. Point').waitFor() } },
  { name: 'account-recovery', path: '/account', act: async (p) => { await p.getByRole('button', { name: 'Set up codes' }).click(); await p.getByLabel(/six digits/).fill('123456'); await p.getByRole('button', { name: 'Ask for codes' }).click(); await p.getByText('Your recovery codes').waitFor() } },
  { name: 'dog-people', path: `/dogs/${dog.id}/people`, act: (p) => p.getByText('Links so far').waitFor() },
  { name: 'dog-people-change', path: `/dogs/${dog.id}/people`, act: async (p) => { await p.getByRole('button', { name: 'Change what Rowan Vale may do' }).click() } },
  { name: 'dog-people-invite', path: `/dogs/${dog.id}/people`, act: async (p) => { await p.getByRole('button', { name: 'Let somebody in' }).click(); await p.getByRole('button', { name: 'Make the link', exact: true }).click(); await p.getByText('A link for one person').waitFor() } },
  { name: 'dog-people-viewer', path: `/dogs/${dog.id}/people`, answers: { 'GET /api/me': json({ ...me, person: { ...owner, id: 'p3', name: 'Sorrel Marsh', keeper: false } }) } },
  { name: 'dog-people-alone', path: `/dogs/${dog.id}/people`, answers: { 'GET /api/me': json(here) } },
  { name: 'dog-viewer', path: `/dogs/${dog.id}`, answers: { 'GET /api/me': json({ ...me, person: { ...owner, id: 'p3', name: 'Sorrel Marsh', keeper: false } }) } },
  { name: 'record-viewer', path: `/dogs/${dog.id}/record`, answers: { 'GET /api/me': json({ ...me, person: { ...owner, id: 'p3', name: 'Sorrel Marsh', keeper: false } }) }, act: (p) => p.getByText('read along').waitFor() },
  { name: 'people', path: '/people', act: (p) => p.getByText('What happened').waitFor() },
  { name: 'join', path: `/join#${SECRET}`, answers: { 'GET /api/me': json(out) }, act: (p) => p.getByText('Your account here').waitFor() },
  { name: 'join-signed-in', path: `/join#${SECRET}` },
  { name: 'join-bad', path: `/join#${SECRET}`, answers: { 'GET /api/me': json(out), 'POST /api/invitations/look': problem(404, 'INVITATION_NOT_FOUND', 'This link does not work: it was used, withdrawn, or is too old.') } },
  { name: 'reset', path: `/join#${SECRET}`, answers: { 'GET /api/me': json(out), 'POST /api/invitations/look': json({ dogName: null, role: null, invitedBy: 'Alba Finch', expiresAt: soon, reset: true }) } },
  { name: 'shared-bad', path: `/shared#${SECRET}`, answers: { 'GET /api/me': json(out), 'POST /api/shares/open': problem(404, 'SHARE_NOT_FOUND', 'This link does not work: it is over, was withdrawn, or is not complete.') } },
  { name: 'settings', path: '/settings' },
  { name: 'ended', path: `/dogs/${dog.id}`, act: async (p) => { await p.getByText('No sessions yet').waitFor(); await p.route('**/api/**', (r) => r.fulfill(problem(401, 'SIGN_IN_FIRST', 'Sign in first.'))); await p.getByText('Your sign-in has ended').first().waitFor({ timeout: 20000 }) } },
  { name: 'sign-out', path: '/settings', act: async (p) => { await p.getByRole('button', { name: 'Sign out' }).first().click(); await p.getByRole('heading', { name: 'Sign out?' }).waitFor() } },
]
for (const [width, scheme] of [[390, 'light'], [1280, 'light'], [390, 'dark'], [1280, 'dark']] as const) {
  if (process.argv[3] && process.argv[3] !== `${width}${scheme}`) continue
  for (const shot of shots) {
    if (only && only !== 'all' && !only.split(',').includes(shot.name)) continue
    const context = await browser.newContext({ viewport: { width, height: width < 600 ? 844 : 800 }, locale: 'en-GB', colorScheme: scheme })
    await context.addInitScript(() => void Reflect.deleteProperty(Navigator.prototype, 'serviceWorker'))
    const page = await context.newPage()
    page.on('pageerror', (e) => console.log(shot.name, 'PAGEERROR', e.message))
    const answers: Answers = { ...base, ...shot.answers }
    await page.route('**/api/**', async (route) => {
      const url = new URL(route.request().url())
      const answer = answers[`${route.request().method()} ${url.pathname}`]
      if (answer) await route.fulfill(answer)
      else await route.continue()
    })
    await page.goto(server.url + shot.path)
    await page.getByRole('heading', { level: 1 }).waitFor()
    await page.waitForLoadState('networkidle')
    try { await shot.act?.(page) } catch (e) { console.log(shot.name, 'ACT', String(e).slice(0, 300)) }
    const faults = await accessibilityFaults(page)
    if (faults.length) console.log(shot.name, width, scheme, faults)
    if (!(await fitsWidth(page))) console.log(shot.name, width, 'TOO WIDE')
    await page.screenshot({ path: `/tmp/screens/${shot.name}-${width}-${scheme}.png`, fullPage: true })
    await context.close()
  }
}
await browser.close()
await server.stop()
