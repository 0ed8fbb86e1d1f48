import { expect, test, vi } from 'vitest'
import { ApiError } from '../../dashboard/lib/problem.ts'
import { keepSigns } from '../../dashboard/lib/review/keep-signs.ts'

test('ticked signs become a note of the repetition', async () => {
  const save = vi.fn(async () => {})
  const mark = vi.fn()
  expect(await keepSigns({ save, mark }, 65.2, ['panting', 'shuffling'], 'left hind')).toBe('note')
  expect(save).toHaveBeenCalledExactlyOnceWith({
    atS: 65.2,
    stance: null,
    signs: ['panting', 'shuffling'],
    note: 'left hind',
  })
  expect(mark).not.toHaveBeenCalled()
})

test('without a network, or a session on the server, they become a mark with the same words', async () => {
  const mark = vi.fn()
  const save = async () => Promise.reject(new ApiError('cannot be reached', { offline: true }))
  expect(await keepSigns({ save, mark }, 65.2, ['panting', 'shuffling'], 'left hind')).toBe('mark')
  expect(mark).toHaveBeenCalledExactlyOnceWith('panting, shuffling; left hind')
})

test('an answer that does not come is not waited for', async () => {
  const mark = vi.fn()
  const save = () => new Promise<void>(() => {})
  expect(await keepSigns({ save, mark }, 1, ['paw off'], '', 5)).toBe('mark')
  expect(mark).toHaveBeenCalledExactlyOnceWith('paw off')
})
