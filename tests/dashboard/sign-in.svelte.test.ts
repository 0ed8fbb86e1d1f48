import { flushSync } from 'svelte'
import { describe, expect, test, vi } from 'vitest'
import App from '../../dashboard/App.svelte'
import SignInForm from '../../dashboard/components/people/SignInForm.svelte'
import { account } from '../../dashboard/lib/people/account.svelte.ts'
import { alba, json, juniper, nobody, refusal, signedIn, thisComputer } from './fakes/people.ts'
import { shownScreen } from './fakes/shown-screen.ts'
import type { Answer } from './fakes/shown-screen.ts'

/** Screens are loaded when they are first opened: on a busy machine that takes its time. */
const SLOWLY = { timeout: 20_000 }
vi.setConfig({ testTimeout: 60_000 })

const { show, text, button, type, stubApi, find } = shownScreen()

describe('signing in', () => {
  function typeBoth() {
    type('Sign-in name', ' alba ')
    type('Password', 'paw on a foam pad')
    button('Sign in').click()
  }

  test('sends name and password, and the code only once it is asked for', async () => {
    const answers: Record<string, Answer> = {
      'POST /api/sign-in': refusal(401, 'CODE_NEEDED', 'A code is needed.'),
    }
    const calls = stubApi(answers)
    const onSignedIn = vi.fn()
    show(SignInForm, { onSignedIn })
    typeBoth()
    await vi.waitFor(() => expect(text()).toContain('recovery codes'))
    expect(calls.at(-1)?.body).toEqual({ signInName: 'alba', password: 'paw on a foam pad' })
    expect(find('[role=alert]')).toBeNull()
    answers['POST /api/sign-in'] = json(signedIn(alba))
    type('Code', '123 456')
    button('Sign in').click()
    await vi.waitFor(() => expect(onSignedIn).toHaveBeenCalled())
    expect(calls.at(-1)?.body).toMatchObject({ code: '123 456' })
    expect(account.me?.person?.name).toBe('Alba')
  })

  test('locked out: says for how long, counts down, and can be tried again then', async () => {
    vi.useFakeTimers()
    stubApi({
      'POST /api/sign-in': refusal(429, 'SIGN_IN_LOCKED', 'Too many tries.', { 'retry-after': '61' }),
    })
    show(SignInForm)
    typeBoth()
    await vi.advanceTimersByTimeAsync(0)
    flushSync()
    expect(text()).toContain('Too many tries. The next try is possible in 1 min 01 s.')
    expect(button('Sign in').disabled).toBe(true)
    await vi.advanceTimersByTimeAsync(31_000)
    flushSync()
    expect(text()).toContain('The next try is possible in 30 s.')
    await vi.advanceTimersByTimeAsync(31_000)
    flushSync()
    expect(text()).not.toContain('The next try')
    expect(button('Sign in').disabled).toBe(false)
  })
})

describe('the app', () => {
  test('asks who is there before any record is asked for, and shows the screen of the address after it', async () => {
    history.replaceState(null, '', '/dogs/d1')
    const calls = stubApi({
      'GET /api/me': json(nobody),
      'POST /api/sign-in': json(signedIn(alba)),
      'GET /api/dogs/d1': json(juniper),
      'GET /api/dogs/d1/people': json([]),
      'GET /api/sessions': json({ sessions: [], next: null }),
    })
    show(App)
    await vi.waitFor(() => expect(text()).toContain('No way in?'), SLOWLY)
    expect(calls.filter(({ name }) => name.startsWith('GET /api/dogs'))).toEqual([])
    type('Sign-in name', 'alba')
    type('Password', 'paw on a foam pad')
    button('Sign in').click()
    await vi.waitFor(() => expect(text()).toContain('No sessions yet'), SLOWLY)
    expect(location.pathname).toBe('/dogs/d1')
  })

  test('a sign-in that ends leaves the screen as it is, and loads again after signing in', async () => {
    history.replaceState(null, '', '/dogs/d1/plan')
    const answers: Record<string, Answer> = {
      'GET /api/me': json(signedIn(alba)),
      'GET /api/dogs/d1': json(juniper),
      'GET /api/dogs/d1/people': json([]),
      'GET /api/dogs/d1/plans': refusal(401, 'SIGN_IN_FIRST', 'Sign in first.'),
      'POST /api/sign-in': json(signedIn(alba)),
    }
    stubApi(answers)
    show(App)
    await vi.waitFor(() => expect(text()).toContain('Your sign-in has ended'), SLOWLY)
    expect(text()).toContain('Plan of Juniper')
    expect(text()).not.toContain('No way in?')
    answers['GET /api/dogs/d1/plans'] = json([])
    button('Sign in again').click()
    flushSync()
    const typedName = find('dialog input[autocomplete=username]')
    expect(typedName?.value).toBe('alba')
    type('Password', 'paw on a foam pad')
    button('Sign in').click()
    await vi.waitFor(() => expect(text()).toContain('No plan yet'), SLOWLY)
    expect(text()).not.toContain('Your sign-in has ended')
  })

  test('a server that never says who is there holds no screen back', async () => {
    stubApi({
      'GET /api/me': () => new Promise<never>(() => {}),
      'GET /api/dogs': json([]),
      'GET /api/sessions': json({ sessions: [], next: null }),
    })
    show(App)
    await vi.waitFor(() => expect(text()).toContain('Set up a dog'), SLOWLY)
  })

  test('without a password nobody is asked anything, and the first screen says what a password is for', async () => {
    stubApi({
      'GET /api/me': json(thisComputer),
      'GET /api/dogs': json([]),
      'GET /api/sessions': json({ sessions: [], next: null }),
    })
    show(App)
    await vi.waitFor(() => expect(text()).toContain('set a password'), SLOWLY)
    expect(text()).toContain('Set up a dog')
    button('Not needed here').click()
    flushSync()
    expect(text()).not.toContain('set a password')
  })
})
