import { flushSync } from 'svelte'
import { describe, expect, test, vi } from 'vitest'
import type { Share } from '#protocol/people'
import App from '../../dashboard/App.svelte'
import { account } from '../../dashboard/lib/people/account.svelte.ts'
import { unsentSessions } from '../../dashboard/recorder/unsent.svelte.ts'
import { alba, dogPerson, json, juniper, nobody, refusal, rowan, signedIn } from './fakes/people.ts'
import { shownScreen } from './fakes/shown-screen.ts'
import type { Answer } from './fakes/shown-screen.ts'

const SLOWLY = { timeout: 20_000 }
vi.setConfig({ testTimeout: 60_000 })
const { show, text, button, buttons, type, stubApi, find } = shownScreen()

const SECRET = 'a'.repeat(43)
const SOON = new Date(Date.now() + 86_400_000).toISOString()
const reader = { ...rowan, id: 'p-sorrel', name: 'Sorrel' }
const sorrel = dogPerson(reader, 'viewer')

const ofDog = (me: Parameters<typeof signedIn>[0], more: Record<string, Answer> = {}) => ({
  'GET /api/me': json(signedIn(me)),
  'GET /api/dogs/d1': json(juniper),
  'GET /api/dogs/d1/people': json([dogPerson(alba, 'owner'), dogPerson(rowan, 'therapist'), sorrel]),
  'GET /api/dogs/d1/plans': json([]),
  'GET /api/dogs/d1/invitations': json([]),
  'GET /api/dogs/d1/shares': json([]),
  'GET /api/dogs/d1/audit': json({ entries: [], next: null }),
  'GET /api/sessions': json({ sessions: [], next: null }),
  ...more,
})

function open(path: string, answers: Record<string, Answer>) {
  history.replaceState(null, '', path)
  const calls = stubApi(answers)
  show(App)
  return calls
}

describe('what is offered goes by the role', () => {
  test('who reads along sees the dog, and nothing that records, changes, exports or deletes', async () => {
    open('/dogs/d1', ofDog(reader))
    await vi.waitFor(() => expect(text()).toContain('What those who treat Juniper record'), SLOWLY)
    for (const word of ['Record live', 'Add traces', 'Edit Juniper', 'Save everything', 'Delete Juniper']) {
      expect(text()).not.toContain(word)
    }
  })

  test('who treats records and exports, and cannot delete the dog', async () => {
    open('/dogs/d1', ofDog(rowan))
    await vi.waitFor(() => expect(text()).toContain('Save everything as ZIP'), SLOWLY)
    expect(text()).toContain('Record live')
    expect(text()).not.toContain('Delete Juniper')
    expect(text()).not.toContain('Edit Juniper')
  })

  test('an address that is not for readers says whose it is', async () => {
    open('/dogs/d1/record', ofDog(reader))
    await vi.waitFor(() => expect(text()).toContain('Recording is for those who treat Juniper'), SLOWLY)
    expect(buttons()).not.toContain('Start')
  })

  test('another person on the same page has a role of their own', async () => {
    open('/dogs/d1/plan', ofDog(reader))
    await vi.waitFor(() => expect(text()).toContain('No plan yet'), SLOWLY)
    account.signedIn(signedIn(rowan))
    await vi.waitFor(() => expect(buttons()).toContain('Write the first plan'), SLOWLY)
    account.signedIn(signedIn(reader))
    flushSync()
    expect(buttons()).not.toContain('Write the first plan')
  })

  test('while the server will not say the role, everything is offered: it refuses what may not be', async () => {
    open('/dogs/d1/plan', {
      ...ofDog({ ...rowan, id: 'p-new' }),
      'GET /api/dogs/d1/people': () => {
        throw new TypeError('Failed to fetch')
      },
    })
    await vi.waitFor(() => expect(buttons()).toContain('Write the first plan'), SLOWLY)
  })
})

describe('people of a dog', () => {
  test('the last owner cannot be changed, and it says why; others can', async () => {
    open('/dogs/d1/people', ofDog(alba))
    await vi.waitFor(() => expect(text()).toContain('You are the only one who owns Juniper'), SLOWLY)
    expect(buttons().filter((name) => name.endsWith('off Juniper'))).toEqual([
      'Take Rowan Vale off Juniper',
      'Take Sorrel off Juniper',
    ])
    expect(buttons().filter((name) => name.startsWith('Change'))).toHaveLength(2)
  })

  test('a link that lets somebody in is shown once, and is gone when it is done', async () => {
    const made = {
      id: 'i',
      role: 'therapist',
      note: null,
      invitedBy: 'Alba',
      createdAt: SOON,
      expiresAt: SOON,
    }
    const calls = open(
      '/dogs/d1/people',
      ofDog(alba, { 'POST /api/dogs/d1/invitations': json({ ...made, secret: SECRET }) }),
    )
    await vi.waitFor(() => expect(buttons()).toContain('Let somebody in'), SLOWLY)
    button('Let somebody in').click()
    flushSync()
    type('Note', 'physio, Tuesdays')
    button('Make the link').click()
    await vi.waitFor(() => expect(text()).toContain(`${location.origin}/join#${SECRET}`), SLOWLY)
    expect(calls.find(({ name }) => name.startsWith('POST'))?.body).toEqual({
      role: 'therapist',
      note: 'physio, Tuesdays',
    })
    expect(text()).toContain('then treats Juniper. It works once.')
    button('Done').click()
    flushSync()
    expect(text()).not.toContain(SECRET)
  })

  test('a share that was withdrawn offers nothing any more', async () => {
    const share = (more: Partial<Share>): Share => ({
      id: 'x',
      kind: 'report',
      from: '2026-09-01',
      to: '2026-11-01',
      createdBy: 'Alba',
      createdAt: SOON,
      expiresAt: SOON,
      revokedAt: null,
      opened: 2,
      lastOpenedAt: SOON,
      ...more,
    })
    let withdrawn = false
    open(
      '/dogs/d1/people',
      ofDog(alba, {
        'GET /api/dogs/d1/shares': () => json([share({ revokedAt: withdrawn ? SOON : null })]),
        'DELETE /api/dogs/d1/shares/x': () => {
          withdrawn = true
          return new Response(null, { status: 204 })
        },
      }),
    )
    await vi.waitFor(() => expect(text()).toContain('Opened twice'), SLOWLY)
    button('Withdraw').click()
    flushSync()
    button('Withdraw the link').click()
    await vi.waitFor(() => expect(text()).toContain('No link works now'), SLOWLY)
    expect(buttons()).not.toContain('Withdraw')
  })
})

describe('a link', () => {
  const seen = { dogName: 'Juniper', role: 'therapist', invitedBy: 'Alba', expiresAt: SOON, reset: false }

  test('its secret leaves the address at once; a newcomer makes an account with it', async () => {
    const calls = open(`/join#${SECRET}`, {
      'GET /api/me': json(nobody),
      'POST /api/invitations/look': json(seen),
      'POST /api/invitations/accept': json(signedIn(rowan)),
      'GET /api/dogs': json([]),
      'GET /api/sessions': json({ sessions: [], next: null }),
    })
    await vi.waitFor(() => expect(text()).toContain('Alba lets you see Juniper'), SLOWLY)
    expect(location.hash).toBe('')
    type('Your name', 'Rowan Vale')
    type('Sign-in name', 'rowan')
    type('Password', 'rocker board on mondays')
    button('Make the account and begin').click()
    await vi.waitFor(() => expect(location.pathname).toBe('/'), SLOWLY)
    expect(calls.find(({ name }) => name === 'POST /api/invitations/accept')?.body).toEqual({
      secret: SECRET,
      name: 'Rowan Vale',
      signInName: 'rowan',
      password: 'rocker board on mondays',
    })
  })

  test('somebody who is signed in accepts with one press, as who they are', async () => {
    const calls = open(`/join#${SECRET}`, {
      ...ofDog(rowan),
      'POST /api/invitations/look': json(seen),
      'POST /api/invitations/accept': json(signedIn(rowan)),
      'GET /api/dogs': json([juniper]),
    })
    await vi.waitFor(() => expect(text()).toContain('You are signed in as Rowan Vale'), SLOWLY)
    button('See Juniper').click()
    await vi.waitFor(() => expect(location.pathname).toBe('/'), SLOWLY)
    expect(calls.find(({ name }) => name === 'POST /api/invitations/accept')?.body).toEqual({
      secret: SECRET,
    })
  })

  test('that is used up, and one that is cut off, say what to do', async () => {
    open(`/join#${SECRET}`, {
      'GET /api/me': json(nobody),
      'POST /api/invitations/look': refusal(404, 'INVITATION_NOT_FOUND', 'This link does not work.'),
    })
    await vi.waitFor(() => expect(text()).toContain('This link does not work.'), SLOWLY)
    expect(text()).toContain('Whoever gave it to you can make another one')
  })

  test('to a report that is withdrawn while it is open: what it showed goes from the screen', async () => {
    const shared = { kind: 'report', dogName: 'Juniper', dogId: 'd1', expiresAt: SOON }
    let withdrawn = false
    open(`/shared#${SECRET}`, {
      'GET /api/me': () => json({ ...nobody, shared: withdrawn ? null : shared }),
      'POST /api/shares/open': json({ shared }),
      'GET /api/shared/report': () => refusal(500, 'INTERNAL', 'Not yet.'),
    })
    await vi.waitFor(() => expect(text()).toContain('Report on Juniper'), SLOWLY)
    expect(location.hash).toBe('')
    withdrawn = true
    document.dispatchEvent(new Event('visibilitychange'))
    await vi.waitFor(() => expect(text()).toContain('This link is over'), SLOWLY)
    expect(text()).not.toContain('Report on Juniper')
  })
})

describe('signing out', () => {
  const unsent = {
    stream: 'stream-1',
    sessionId: 's1',
    dogId: 'd1',
    dogName: 'Juniper',
    startedAt: SOON,
    unsentS: 12,
    state: 'waiting' as const,
    message: null,
  }

  async function ask() {
    vi.spyOn(unsentSessions, 'refresh').mockImplementation(async () => {
      unsentSessions.sessions = [unsent]
    })
    const discard = vi.spyOn(unsentSessions, 'discard').mockImplementation(async () => {})
    const calls = open('/account', {
      ...ofDog(alba),
      'GET /api/me/sign-ins': json([]),
      'POST /api/sign-out': () => new Response(null, { status: 204 }),
    })
    localStorage.setItem('swaybook.hold-target.d1', '5')
    await vi.waitFor(() => expect(buttons()).toContain('Sign out'), SLOWLY)
    button('Sign out').click()
    await vi.waitFor(() => expect(find('dialog[open]')?.textContent).toContain('not on the server yet'))
    return { calls, discard }
  }
  const confirmIn = (name: string) =>
    [...find('dialog[open]')!.querySelectorAll('button')].find((one) => one.textContent.trim() === name)!

  test('warns of recordings that are nowhere else, and keeps them unless told otherwise', async () => {
    const { calls, discard } = await ask()
    confirmIn('Sign out').click()
    await vi.waitFor(() => expect(localStorage.getItem('swaybook.hold-target.d1')).toBeNull())
    expect(calls.map(({ name }) => name)).toContain('POST /api/sign-out')
    expect(discard).not.toHaveBeenCalled()
  })

  test('deletes them after an explicit yes', async () => {
    const { discard } = await ask()
    find('dialog[open] input[type=checkbox]')!.click()
    flushSync()
    confirmIn('Delete and sign out').click()
    await vi.waitFor(() => expect(discard).toHaveBeenCalledWith('stream-1'))
  })

  test('forgets nothing when the server cannot be reached: the person would stay signed in', async () => {
    await ask()
    stubApi({})
    confirmIn('Sign out').click()
    await vi.waitFor(() => expect(text()).toContain('you would stay signed in'))
    expect(localStorage.getItem('swaybook.hold-target.d1')).toBe('5')
  })
})
