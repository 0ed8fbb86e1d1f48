import { beforeEach, describe, expect, test } from 'vitest'
import { Account } from '../../dashboard/lib/people/account.svelte.ts'
import { forgetDogsOfThisDevice, unsavedChanges } from '../../dashboard/lib/people/forget-dogs.ts'
import { ApiError } from '../../dashboard/lib/problem.ts'
import { alba, nobody, rowan, signedIn, thisComputer } from './fakes/people.ts'

beforeEach(() => localStorage.clear())

const unreachable = async () => {
  throw new ApiError('no server', { offline: true })
}
const signInFirst = new ApiError('Sign in first.', {
  status: 401,
  problem: { type: '', title: '', status: 401, detail: 'Sign in first.', code: 'SIGN_IN_FIRST' },
})

describe('who uses this browser', () => {
  test('is known without a network as the server said it last', async () => {
    new Account().take(signedIn(alba))
    const later = new Account()
    expect(later.me?.person?.name).toBe('Alba')
    await later.ask(unreachable)
    expect(later.me?.person?.name).toBe('Alba')
    expect(later.mustSignIn).toBe(false)
  })

  test('is asked to sign in when the server knows nobody, and is then forgotten by this browser', async () => {
    const account = new Account()
    account.take(signedIn(alba))
    const later = new Account()
    await later.ask(async () => nobody)
    expect(later.mustSignIn).toBe(true)
    expect(new Account().me).toBeNull()
  })

  test('whose sign-in ends in use keeps the screen, whichever call says so first', async () => {
    for (const end of [
      (account: Account) => account.ask(async () => nobody),
      async (account: Account) => account.noteRefusal(signInFirst),
    ]) {
      const account = new Account()
      await account.ask(async () => signedIn(alba))
      await end(account)
      expect([account.ended, account.mustSignIn]).toEqual([true, false])
      expect(account.me?.person?.id).toBe(alba.id)
      account.signedIn(signedIn(alba))
      expect(account.ended).toBe(false)
    }
  })

  test('a refusal to somebody who never signed in, such as a phone with a link, asks for nothing', async () => {
    const account = new Account()
    await account.ask(async () => nobody)
    account.noteRefusal(signInFirst)
    expect(account.ended).toBe(false)
  })

  test('another person signing in finds nothing of the dogs of the first; the same one finds all', async () => {
    localStorage.setItem('swaybook.hold-target.d1', '5')
    const account = new Account()
    account.take(thisComputer)
    account.signedIn(signedIn(alba))
    expect(localStorage.getItem('swaybook.hold-target.d1')).toBe('5')
    account.signedIn(signedIn(rowan))
    expect(localStorage.getItem('swaybook.hold-target.d1')).toBeNull()
  })
})

test('forgetting the dogs of this device leaves what is of nobody, and never touches recordings', async () => {
  const ofDogs = [
    'first-steps.d1',
    'first-plan.d1',
    'hold-target.d1',
    'report-questions.d1',
    'roles',
    'unsaved-edits.s1.page',
    'unsaved-notes.s1.page',
  ]
  const ofNobody = ['acceleration', 'sound-mode', 'packet-layouts', 'hold-keys', 'trend-measure']
  for (const name of [...ofDogs, ...ofNobody]) localStorage.setItem(`swaybook.${name}`, 'x')
  localStorage.setItem('another program', 'x')
  expect(unsavedChanges()).toBe(2)
  await forgetDogsOfThisDevice()
  const left = Array.from({ length: localStorage.length }, (_, k) => localStorage.key(k)).sort()
  expect(left).toEqual(['another program', ...ofNobody.map((name) => `swaybook.${name}`)].sort())
})
