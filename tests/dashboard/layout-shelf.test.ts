import { createHash } from 'node:crypto'
import { beforeEach, describe, expect, test } from 'vitest'
import { BUILT_IN_LAYOUTS } from '#signal/packet/built-in-layouts'
import { canonicalJson } from '#signal/packet/canonical-json'
import { LayoutError } from '#signal/packet/check-layout'
import { GENERIC_IMU } from '#signal/packet/generic-layout'
import { layoutHash, LayoutShelf, ShelfError } from '../../dashboard/lib/layout-shelf.ts'

const KEY = 'swaybook.packet-layouts'
const mine = { ...GENERIC_IMU, id: 'mine', name: 'Mine' }

beforeEach(() => localStorage.clear())
const shelf = () => new LayoutShelf(localStorage)

describe('LayoutShelf', () => {
  test('has the built-in layouts first, and keeps own ones over a reload', () => {
    expect(shelf().all()).toEqual(BUILT_IN_LAYOUTS)
    shelf().put(mine)
    expect(shelf().all()).toEqual([...BUILT_IN_LAYOUTS, mine])
    shelf().remove('mine')
    expect(shelf().own()).toEqual([])
  })

  test('raises the version of a layout that reads otherwise, and only then', () => {
    shelf().put(mine)
    expect(shelf().put(mine).version).toBe(1)
    expect(shelf().put({ ...mine, nominalRateHz: 50 }).version).toBe(2)
    expect(shelf().put({ ...mine, nominalRateHz: 50 }).version).toBe(2)
    expect(shelf().put({ ...mine, version: 9 }).version).toBe(9)
    expect(shelf().own()).toHaveLength(1)
  })

  test('refuses what cannot be used, and to change what comes with the program', () => {
    expect(() => shelf().put({ ...mine, sign: 'up' })).toThrow(LayoutError)
    expect(() => shelf().put({ ...GENERIC_IMU, nominalRateHz: 50 })).toThrow(ShelfError)
    expect(localStorage.getItem(KEY)).toBeNull()
  })

  test('duplicates under free names, however often', () => {
    const copies = [1, 2, 3].map(() => shelf().duplicate(GENERIC_IMU))
    expect(copies.map(({ id }) => id)).toEqual([
      'generic-imu-acc-copy',
      'generic-imu-acc-copy-2',
      'generic-imu-acc-copy-3',
    ])
    const long = shelf().put({ ...mine, id: 'a'.repeat(64), name: 'n'.repeat(80) })
    expect(shelf().duplicate(long).id.length).toBeLessThanOrEqual(64)
  })

  test('takes an exported layout back unchanged, tells what is there, and never writes over another', () => {
    const text = JSON.stringify(mine)
    expect(shelf().import(text)).toEqual({ layout: mine, outcome: 'added' })
    expect(shelf().import(text)).toEqual({ layout: mine, outcome: 'there' })
    const other = shelf().import(JSON.stringify({ ...mine, nominalRateHz: 50 }))
    expect(other).toMatchObject({ outcome: 'renamed', layout: { id: 'mine-2', nominalRateHz: 50 } })
    expect(shelf().find('mine')).toEqual(mine)
    expect(shelf().import(JSON.stringify({ ...GENERIC_IMU, version: 2 })).layout.id).toBe('generic-imu-acc-2')
    expect(() => shelf().import('{"a":')).toThrow(/no JSON/)
    expect(() => shelf().import('{}')).toThrow(LayoutError)
  })

  test('leaves entries it cannot read where they are, and sets aside what is no list', () => {
    localStorage.setItem(KEY, JSON.stringify([{ format: 99, id: 'later' }, mine]))
    expect(shelf().unreadable()).toBe(1)
    shelf().put({ ...mine, id: 'third' })
    expect(JSON.parse(localStorage.getItem(KEY)!)).toHaveLength(3)
    localStorage.setItem(KEY, 'cut off [')
    shelf().put(mine)
    expect(localStorage.getItem(`${KEY}.unreadable`)).toBe('cut off [')
    expect(shelf().own()).toEqual([mine])
  })

  test('says so when the browser keeps nothing', () => {
    expect(() => new LayoutShelf(null).put(mine)).toThrow(/keeps nothing/)
    const full = {
      getItem: () => null,
      setItem: () => {
        throw new DOMException('full', 'QuotaExceededError')
      },
    } as unknown as Storage
    expect(() => new LayoutShelf(full).put(mine)).toThrow(/no room/)
  })
})

test('layoutHash is the SHA-256 of the canonical JSON, as Node computes it', async () => {
  const expected = createHash('sha256').update(canonicalJson(GENERIC_IMU)).digest('hex')
  expect(await layoutHash(GENERIC_IMU)).toBe(expected)
  expect(await layoutHash({ ...GENERIC_IMU, version: 2 })).not.toBe(expected)
})
