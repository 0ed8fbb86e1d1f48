import { describe, expect, test } from 'vitest'
import { auditDetails, auditWords } from '../../dashboard/lib/audit-words.ts'
import { passwordProblem } from '../../dashboard/lib/people/password-words.ts'
import { joinLink, linkProblem, secretOf, shareLink } from '../../dashboard/lib/people/secret-link.ts'
import { isOver, openedWords, shareEnd } from '../../dashboard/lib/people/share-words.ts'
import { waitWords } from '../../dashboard/lib/people/waiting-words.ts'
import { errorOfResponse } from '../../dashboard/lib/problem.ts'

const SECRET = 'Ab1_-'.repeat(9).slice(0, 43)

describe('links with a secret', () => {
  test('carry it behind #, which browsers keep to themselves (RFC 9110, 4.2.3)', () => {
    for (const make of [joinLink, shareLink]) {
      const url = new URL(make(SECRET, 'https://dogs.example'))
      expect(url.pathname + url.search).not.toContain(SECRET)
      expect(secretOf(url.hash)).toBe(SECRET)
    }
  })

  test.each(['', '#', '#short', `#${SECRET}%20`, `#${SECRET} and more`, `#${'a'.repeat(65)}`])(
    '%o is no whole secret',
    (hash) => expect(secretOf(hash)).toBeNull(),
  )

  test.each([
    ['127.0.0.1', true],
    ['[::1]', true],
    ['localhost', true],
    ['dogs.localhost', true],
    ['192.168.1.20', false],
    ['dogs.example', false],
  ])('made at %s opens on this computer only: %s', (host, only) => {
    expect(linkProblem(host) !== null).toBe(only)
  })
})

describe('shares in words', () => {
  const NOW = Date.parse('2026-11-27T12:00:00Z')
  const share = { revokedAt: null as string | null, expiresAt: '2026-11-27T13:00:00Z' }

  test('one works until it is withdrawn or its time has passed, to the moment', () => {
    expect(isOver(share, NOW)).toBe(false)
    expect(isOver(share, Date.parse(share.expiresAt) - 1)).toBe(false)
    expect(isOver(share, Date.parse(share.expiresAt))).toBe(true)
    expect(isOver({ ...share, revokedAt: '2026-11-27T11:00:00Z' }, NOW)).toBe(true)
    expect(shareEnd(share, NOW)).toMatch(/^Works until /)
    expect(shareEnd(share, NOW + 7_200_000)).toMatch(/^Ended /)
    expect(shareEnd({ ...share, revokedAt: '2026-11-27T11:00:00Z' }, NOW)).toMatch(/^Withdrawn /)
  })

  test('how often its link was opened', () => {
    const at = '2026-11-27T11:00:00Z'
    expect(openedWords({ opened: 0, lastOpenedAt: null })).toBe('Not opened yet')
    expect(openedWords({ opened: 1, lastOpenedAt: at })).toMatch(/^Opened once, last /)
    expect(openedWords({ opened: 2, lastOpenedAt: at })).toMatch(/^Opened twice, last /)
    expect(openedWords({ opened: 5, lastOpenedAt: at })).toMatch(/^Opened 5 times, last /)
  })
})

test.each([
  [0.2, '1 s'],
  [59, '59 s'],
  [60, '1 min 00 s'],
  [899.5, '15 min 00 s'],
])('a wait of %f s is told as “%s”', (seconds, words) => expect(waitWords(seconds)).toBe(words))

test('why a password is not taken: the reason in words, else what the server says', () => {
  const weak = (more: object) =>
    errorOfResponse(422, JSON.stringify({ status: 422, detail: 'Too weak.', code: 'PASSWORD_WEAK', ...more }))
  expect(passwordProblem(weak({ reason: 'common' }))).toMatch(/Too many people use this one/)
  expect(passwordProblem(weak({ reason: 'a newer reason' }))).toBe('Too weak.')
  expect(passwordProblem(weak({}))).toBe('Too weak.')
})

describe('what happened about people, in words', () => {
  test.each([
    ['invitation.made', 'Made a link that lets somebody in'],
    ['sign-in.failed', 'A try to sign in failed'],
    ['share.revoked', 'Withdrew a link to look'],
    ['person.from-a-newer-server', 'an account: from-a-newer-server'],
  ])('%s: “%s”', (action, words) => expect(auditWords({ action })).toBe(words))

  test('a role before and after is told as one line', () => {
    expect(auditDetails({ person: 'Rowan Vale', before: 'viewer', after: 'therapist' })).toEqual([
      'who: Rowan Vale',
      'role: viewer → therapist',
    ])
    expect(auditDetails({ person: 'Rowan Vale', before: 'owner' })).toEqual([
      'who: Rowan Vale',
      'role: was owner',
    ])
    expect(auditDetails({ id: 'x', kind: 'report' })).toEqual(['kind: a report'])
  })
})
