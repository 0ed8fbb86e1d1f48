import { describe, expect, test } from 'vitest'
import { parseMount } from '#signal/mount/mount'
import { MOUNT_DIRECTIONS, mountOf } from '../../dashboard/lib/mount-words.ts'

describe('how the sensor sits', () => {
  test('every pair of directions is either refused here or understood by the analysis', () => {
    for (const x of MOUNT_DIRECTIONS) {
      for (const z of MOUNT_DIRECTIONS) {
        const mount = mountOf(x.value, z.value)
        if (mount === null) expect(() => parseMount(`x=${x.value},z=${z.value}`)).toThrow()
        else expect(() => parseMount(mount)).not.toThrow()
      }
    }
  })

  test('nothing said is nothing sent, and half of it is not enough', () => {
    expect(mountOf('', '')).toBe('')
    expect(mountOf('cranial', '')).toBeNull()
  })
})
