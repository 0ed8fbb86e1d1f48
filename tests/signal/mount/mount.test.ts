import { describe, expect, it } from 'vitest'
import { parseMount, resolveMount } from '#signal/mount/mount'
import { angleDeg, IDENTITY, rotate } from '#signal/mount/rotation'
import { rotationFromEuler, transposed } from '#signal/simulator/rotation'

const G = 9.80665

describe('parseMount', () => {
  it('passes identity and auto through', () => {
    expect(parseMount('identity')).toBe('identity')
    expect(parseMount('auto')).toBe('auto')
  })

  it('reads a stated mount: columns say where each sensor axis points on the dog', () => {
    // Sensor x to the left, y to the tail, z up: CC = −y, ML = x, DV = z.
    expect(parseMount('x=left,y=caudal,z=dorsal')).toEqual({
      declared: [
        [0, -1, 0],
        [1, 0, 0],
        [0, 0, 1],
      ],
    })
    expect(parseMount(' X = Cranial , y=LEFT, z=dorsal')).toEqual({ declared: IDENTITY })
  })

  it.each([
    ['x=cranial,y=left', 'x=cranial,y=left,z=dorsal'],
    ['y=ventral,z=left', 'x=cranial,y=ventral,z=left'],
    ['x=caudal,z=dorsal', 'x=caudal,y=right,z=dorsal'],
  ])('adds the third axis of %s by the right-hand rule', (two, three) => {
    const numbers = (text: string) => JSON.stringify(parseMount(text), (_, v) => (v === 0 ? 0 : v))
    expect(numbers(two)).toBe(numbers(three))
  })

  it.each([
    ['sideways', 'is not understood at "sideways"'],
    ['', 'is not understood'],
    ['x=up,y=left', 'is not understood at "x=up"'],
    ['x=constructor,y=left', 'is not understood at "x=constructor"'],
    ['w=cranial,y=left', 'is not understood at "w=cranial"'],
    ['x=cranial=left,y=left', 'is not understood at "x=cranial=left"'],
    ['x=cranial', 'at least two of the axes'],
    ['x=cranial,x=left,y=left', 'states the axis x twice'],
    ['x=cranial,y=cranial,z=dorsal', 'right-handed'],
    ['x=cranial,y=caudal', 'right-handed'],
    ['x=cranial,y=right,z=dorsal', 'right-handed'],
  ])('refuses "%s" and says why', (text, message) => {
    expect(() => parseMount(text)).toThrow(RangeError)
    expect(() => parseMount(text)).toThrow(message)
  })
})

describe('resolveMount', () => {
  it('leaves the axes alone with identity, heading resolved', () => {
    const mount = resolveMount('identity', [3, 0, 9])
    expect(mount).toEqual({ source: 'identity', rotation: IDENTITY, headingResolved: true })
  })

  it('finds up from gravity alone with auto, and says that heading is unresolved', () => {
    const mount = resolveMount('auto', [3, -4, -2])
    expect(mount.headingResolved).toBe(false)
    expect(mount.reason).toContain('heading unresolved')
    expect(angleDeg(rotate(mount.rotation, [3, -4, -2]), [0, 0, 1])).toBeLessThan(1e-6)
  })

  it('takes the heading of a led walk with auto, and keeps it when gravity turns after the walk', () => {
    const walked = rotationFromEuler({ yawDeg: 70, pitchDeg: -10, rollDeg: 20 })
    const heading = { rotation: walked, standardErrorDeg: 2, speedMs: 0.8 }
    const slipped = rotate(transposed(rotationFromEuler({ rollDeg: 14, pitchDeg: 0, yawDeg: 0 })), [0, 0, G])
    const gravity = rotate(transposed(walked), slipped)
    const mount = resolveMount('auto', gravity, { heading, reason: null })
    expect(mount).toMatchObject({ source: 'auto', headingResolved: true })
    expect(mount.reason).toBeUndefined()
    expect(angleDeg(rotate(mount.rotation, gravity), [0, 0, 1])).toBeLessThan(1e-6)
    // The slip was about CC, so CC stays.
    expect(angleDeg(mount.rotation[0], walked[0])).toBeLessThan(1e-6)
    // A stated mount goes before the walk.
    const stated = resolveMount({ declared: IDENTITY }, [0, 0, G], { heading, reason: null })
    expect(stated.rotation).toEqual(IDENTITY)
  })

  it('says why the led walk gave no heading', () => {
    const mount = resolveMount('auto', [0, 0, G], {
      heading: null,
      reason: 'the led walk shows no steady steps',
    })
    expect(mount.headingResolved).toBe(false)
    expect(mount.reason).toContain('the led walk shows no steady steps')
  })

  it('corrects a stated mount for tilt and keeps its heading', () => {
    const { declared } = parseMount('x=left,y=caudal,z=dorsal') as { declared: typeof IDENTITY }
    // The sensor sits tilted by 8° about ML and 5° about CC from where it was said to sit.
    const slack = rotationFromEuler({ rollDeg: 5, pitchDeg: 8, yawDeg: 0 })
    const inDog = rotate(transposed(slack), [0, 0, G])
    const inSensor = rotate(transposed(declared), inDog)
    const mount = resolveMount({ declared }, inSensor)
    expect(mount).toMatchObject({ source: 'declared', headingResolved: true })
    expect(mount.reason).toBeUndefined()
    expect(angleDeg(rotate(mount.rotation, inSensor), [0, 0, 1])).toBeLessThan(1e-6)
    // Cranial of the dog, seen by the sensor: still cranial, to within what 8° and 5° of tilt couple.
    const cranial = rotate(transposed(declared), rotate(transposed(slack), [1, 0, 0]))
    expect(angleDeg(rotate(mount.rotation, cranial), [1, 0, 0])).toBeLessThan(0.5)
  })

  it('warns when gravity contradicts the stated mount, as with a sensor upside down', () => {
    const mount = resolveMount({ declared: IDENTITY }, [0.1, 0, -G])
    expect(mount.reason).toMatch(/points 179° away from up/)
    expect(angleDeg(rotate(mount.rotation, [0.1, 0, -G]), [0, 0, 1])).toBeLessThan(1e-6)
    expect(
      resolveMount({ declared: IDENTITY }, [G * Math.sin(0.7), 0, G * Math.cos(0.7)]).reason,
    ).toBeUndefined()
    expect(resolveMount({ declared: IDENTITY }, [G * Math.sin(0.9), 0, G * Math.cos(0.9)]).reason).toContain(
      '52°',
    )
  })
})
