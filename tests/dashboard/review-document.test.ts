import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import type { SessionEdits } from '#protocol/session-review'
import {
  addMark,
  asFound,
  bringBack,
  joinHolds,
  leaveOut,
  moveEdge,
  moveMark,
  newHold,
  removeMark,
  sameEdits,
  SHORTEST_HOLD_S,
} from '../../dashboard/lib/review/edit-document.ts'
import { changed, redone, startHistory, undone } from '../../dashboard/lib/review/edit-history.ts'
import type { EditHistory } from '../../dashboard/lib/review/edit-history.ts'
import { differences, putOnTop } from '../../dashboard/lib/review/edit-merge.ts'
import { edgeLimits, freeStretch, shownHolds } from '../../dashboard/lib/review/shown-holds.ts'
import { timeWords } from '../../dashboard/lib/review/time-words.ts'

const EMPTY: SessionEdits = { marks: [], holds: [] }
const HOLDS = [
  { fromS: 10, toS: 20, role: 'exercise' as const },
  { fromS: 30, toS: 42.4, role: 'exercise' as const },
]
const shownOf = (doc: SessionEdits, measured = EMPTY) => shownHolds(HOLDS, measured, doc)
const off = (id: string, atS: number) => ({ id, atS, kind: 'support-off' as const, note: null })

describe('changes of the document', () => {
  test('the first move of an edge makes a hold set by a person, the next one moves the same', () => {
    const first = moveEdge(EMPTY, shownOf(EMPTY)[1], 'from', 31.5, 'e1')
    expect(first.words).toBe('hold 2 begins at 0:31.5')
    expect(first.doc.holds).toEqual([{ id: 'e1', kind: 'set', fromS: 31.5, toS: 42.4, reason: null }])
    const [one, two] = shownOf(first.doc)
    expect([one.origin, two.origin, two.name]).toEqual(['found', 'set', 'hold 2'])
    const second = moveEdge(first.doc, two, 'to', 41, 'unused')
    expect(second.doc.holds).toEqual([{ id: 'e1', kind: 'set', fromS: 31.5, toS: 41, reason: null }])
    expect(sameEdits(asFound(second.doc, shownOf(second.doc)[1]).doc, EMPTY)).toBe(true)
  })

  test('a hold that is left out stays visible with its reason and comes back', () => {
    const { doc, words } = leaveOut(EMPTY, shownOf(EMPTY)[0], 'leaned', 'o1')
    expect(words).toBe('hold 1 left out (leaned)')
    expect(shownOf(doc)[0].leftOut).toEqual({ reason: 'leaned' })
    expect(sameEdits(bringBack(doc, shownOf(doc)[0]).doc, EMPTY)).toBe(true)
    // Measured under it the report lists the other hold alone.
    const after = shownHolds([HOLDS[1]], doc, doc)
    expect(after.map(({ name, leftOut }) => [name, leftOut?.reason])).toEqual([
      ['left-out hold', 'leaned'],
      ['hold 1', undefined],
    ])
    expect(sameEdits(bringBack(doc, after[0]).doc, EMPTY)).toBe(true)
  })

  test('two joined holds are one correction over both', () => {
    const [one, two] = shownOf(EMPTY)
    const { doc } = joinHolds(EMPTY, one, two, 'j')
    expect(doc.holds).toEqual([{ id: 'j', kind: 'set', fromS: 10, toS: 42.4, reason: null }])
    expect(shownOf(doc)).toHaveLength(1)
  })

  test('a set hold is found again in the report that was measured under it', () => {
    const doc = newHold(EMPTY, { fromS: 22, toS: 27 }, 'n').doc
    const report = [HOLDS[0], { fromS: 22, toS: 26.99, role: 'exercise' as const }, HOLDS[1]]
    expect(shownHolds(report, doc, doc).map(({ name, origin }) => [name, origin])).toEqual([
      ['hold 1', 'found'],
      ['hold 2', 'set'],
      ['hold 3', 'found'],
    ])
  })

  test('an edge stops at the hold beside it and keeps the shortest length', () => {
    const [one, two] = shownOf(EMPTY)
    expect(edgeLimits([one, two], two, 'from', 60, SHORTEST_HOLD_S)).toEqual({ minS: 20, maxS: 41.4 })
    expect(edgeLimits([one, two], one, 'to', 60, SHORTEST_HOLD_S)).toEqual({ minS: 11, maxS: 30 })
    expect(edgeLimits([one, two], two, 'to', 60, SHORTEST_HOLD_S)).toEqual({ minS: 31, maxS: 60 })
    expect(freeStretch([one, two], 25, 60)).toEqual({ fromS: 20, toS: 30 })
    expect(freeStretch([one, two], 35, 60)).toBeNull()
  })
})

test('times are written to a tenth, and to a hundredth where there is one', () => {
  expect([0, 41.2, 41.22, 59.999, 60, 3600.5].map(timeWords)).toEqual([
    '0:00.0',
    '0:41.2',
    '0:41.22',
    '1:00.0',
    '1:00.0',
    '60:00.5',
  ])
})

describe('undo and redo', () => {
  test('key presses in succession on one thing are one step; after a pause they are two', () => {
    let history = startHistory({ ...EMPTY, marks: [off('m', 40)] })
    for (const [k, atS] of [40.1, 40.2, 40.3].entries()) {
      history = changed(history, moveMark(history.present, 'm', atS), 1000 + k * 200)
    }
    expect(history.past.map(({ words }) => words)).toEqual(['hands-off at 0:40.3'])
    history = changed(history, moveMark(history.present, 'm', 40.4), 9000)
    expect(history.past).toHaveLength(2)
    history = undone(history)
    expect(history.present.marks[0].atS).toBe(40.3)
    expect(undone(history).present.marks[0].atS).toBe(40)
  })

  test('moved away and back in one go leaves nothing to undo', () => {
    const start = startHistory({ ...EMPTY, marks: [off('m', 40)] })
    const there = changed(start, moveMark(start.present, 'm', 41), 0)
    expect(changed(there, moveMark(there.present, 'm', 40), 100).past).toEqual([])
  })

  /** Some change of the document at hand, or none that fits. */
  function someChange(doc: SessionEdits, pick: number, k: number) {
    const mark = doc.marks[pick % Math.max(1, doc.marks.length)]
    if (mark && pick % 3 === 0) return removeMark(doc, mark.id)
    if (mark && pick % 3 === 1) return moveMark(doc, mark.id, (pick % 100) / 2)
    return addMark(doc, off(`m${k}`, (pick % 100) / 2))
  }

  test('undoing all steps gives the first document, doing them again the last (seeded)', () => {
    fc.assert(
      fc.property(fc.array(fc.nat(1000), { maxLength: 30 }), (picks) => {
        let history: EditHistory = startHistory(EMPTY)
        for (const [k, pick] of picks.entries()) {
          history = changed(history, someChange(history.present, pick, k), k * 10_000)
        }
        const last = history.present
        while (history.past.length > 0) history = undone(history)
        expect(history.present).toEqual(EMPTY)
        while (history.future.length > 0) history = redone(history)
        expect(history.present).toEqual(last)
      }),
      { seed: 20260301 },
    )
  })
})

describe('edits of two people', () => {
  const base: SessionEdits = { marks: [off('a', 10), off('b', 20)], holds: [] }

  test('mine go on top of theirs row by row', () => {
    const mine = { ...base, marks: [off('a', 11), off('c', 30)] }
    const theirs = { ...base, marks: [off('a', 12), off('b', 20), off('d', 40)] }
    const merged = putOnTop(base, mine, theirs)
    expect([...merged.marks].sort((x, y) => x.atS - y.atS)).toEqual([
      off('a', 11),
      off('c', 30),
      off('d', 40),
    ])
    expect(differences(base, mine)).toEqual([
      'hands-off at 0:11.0, before hands-off at 0:10.0',
      'hands-off at 0:30.0: added',
      'hands-off at 0:20.0: taken back',
    ])
  })

  test('a hold I set takes the place of one they set over it', () => {
    const set = (id: string, fromS: number, toS: number) => ({
      id,
      kind: 'set' as const,
      fromS,
      toS,
      reason: null,
    })
    const mine = { ...base, holds: [set('m', 10, 20)] }
    const theirs = { ...base, holds: [set('t', 15, 25), set('u', 40, 50)] }
    expect(putOnTop(base, mine, theirs).holds.map(({ id }) => id)).toEqual(['u', 'm'])
  })

  test('without a change of mine the result is theirs, without one of theirs it is mine (seeded)', () => {
    const rows = fc.uniqueArray(fc.tuple(fc.nat(12), fc.nat(50)), { selector: ([id]) => id, maxLength: 8 })
    const doc = rows.map((list): SessionEdits => ({
      marks: list.map(([id, atS]) => off(`m${id}`, atS)),
      holds: [],
    }))
    fc.assert(
      fc.property(doc, doc, (one, two) => {
        expect(sameEdits(putOnTop(one, one, two), two)).toBe(true)
        expect(sameEdits(putOnTop(one, two, one), two)).toBe(true)
      }),
      { seed: 7 },
    )
  })
})
