import { expect, it } from 'vitest'
import { movedNumbers } from '#server/upkeep/moved-numbers'

it('numbers that are the same to the rounding of a processor have not moved', () => {
  expect(movedNumbers({ a: 1, b: [2, 0] }, { a: 1 + 1e-12, b: [2, 0] })).toEqual({ count: 3, moved: [] })
})

it('names each number by its place, with both values and the share of the larger one', () => {
  const { count, moved } = movedNumbers({ a: { b: 4 }, c: [1, 2] }, { a: { b: 3 }, c: [1, -2] })
  expect(count).toBe(3)
  expect(moved).toEqual([
    { path: 'a.b', before: 4, after: 3, share: 0.25 },
    { path: 'c[1]', before: 2, after: -2, share: 2 },
  ])
})

it('a number that came, went, or takes the place of words has moved', () => {
  const { moved } = movedNumbers({ came: null, went: 2, words: 'none' }, { came: 1, words: 3 })
  expect(moved).toEqual([
    { path: 'came', before: null, after: 1, share: 1 },
    { path: 'went', before: 2, after: null, share: 1 },
    { path: 'words', before: null, after: 3, share: 1 },
  ])
})

it('compares a hold with the one it overlaps: one more at the beginning moves none of the others', () => {
  const [first, second, third] = [
    { fromS: 0, toS: 3, sway: 7 },
    { fromS: 5, toS: 9, sway: 1 },
    { fromS: 20, toS: 30, sway: 2 },
  ]
  const { moved } = movedNumbers(
    { holds: [second, third] },
    { holds: [first, second, { ...third, sway: 4 }] },
  )
  expect(moved.filter(({ before }) => before !== null)).toEqual([
    { path: 'holds[1].sway', before: 2, after: 4, share: 0.5 },
  ])
  expect(moved.filter(({ before }) => before === null).map(({ path, after }) => [path, after])).toEqual([
    ['holds[2].fromS', 0],
    ['holds[2].toS', 3],
    ['holds[2].sway', 7],
  ])
})
