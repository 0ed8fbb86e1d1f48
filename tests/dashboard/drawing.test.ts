import { describe, expect, test, vi } from 'vitest'
import { axisTicks, decadeTicks } from '../../dashboard/lib/axis-ticks.ts'
import { ellipseOutline, majorAngleDeg } from '../../dashboard/lib/ellipse.ts'
import { FramePacer } from '../../dashboard/lib/frame-pacer.ts'
import { SampleRing } from '../../dashboard/lib/ring.ts'
import { Sweep } from '../../dashboard/lib/sweep.ts'
import { inside, panned, zoomed } from '../../dashboard/lib/time-range.ts'

describe('ellipse outline', () => {
  test('encloses π·a·b (shoelace area of 720 points within 0.01 %: chord error)', () => {
    const points = ellipseOutline({ major: 3, minor: 2, angleDeg: 30 }, 720)
    const twice = points.reduce((sum, [x, y], k) => {
      const [nextX, nextY] = points[(k + 1) % points.length]
      return sum + x * nextY - nextX * y
    }, 0)
    expect(Math.abs(twice / 2 / (Math.PI * 6) - 1)).toBeLessThan(1e-4)
  })

  test('its first point lies on the major axis', () => {
    const [[x, y]] = ellipseOutline({ major: 2, minor: 1, angleDeg: 90 })
    expect(x).toBeCloseTo(0, 12)
    expect(y).toBeCloseTo(2, 12)
  })

  test('the angle of points on a line is the angle of the line', () => {
    expect(majorAngleDeg([0, 1, 2], [0, 1, 2])).toBeCloseTo(45, 10)
    expect(majorAngleDeg([0, 1, 2], [3, 3, 3])).toBeCloseTo(0, 10)
  })
})

describe('axis ticks', () => {
  test('are round and inside the range', () => {
    expect(axisTicks(0, 97, 5)).toEqual([0, 50])
    expect(axisTicks(-1, 1, 5)).toEqual([-1, -0.5, 0, 0.5, 1])
    expect(axisTicks(0, 0, 5)).toEqual([0])
  })

  test('decades are whole powers of ten', () => {
    expect(decadeTicks(1e-3, 1)).toEqual([0.001, 0.01, 0.1, 1])
  })
})

describe('time range', () => {
  test('zooming keeps the middle and panning keeps the length', () => {
    expect(zoomed({ fromS: 20, toS: 40 }, 0.5, 100)).toEqual({ fromS: 25, toS: 35 })
    expect(panned({ fromS: 20, toS: 40 }, 0.5, 100)).toEqual({ fromS: 30, toS: 50 })
  })

  test('neither leaves the session', () => {
    expect(zoomed({ fromS: 0, toS: 90 }, 2, 100)).toEqual({ fromS: 0, toS: 100 })
    expect(panned({ fromS: 90, toS: 100 }, 0.5, 100)).toEqual({ fromS: 90, toS: 100 })
    expect(inside({ fromS: -5, toS: 5 }, 100)).toEqual({ fromS: 0, toS: 10 })
  })

  test('no stretch gets shorter than a second', () => {
    expect(zoomed({ fromS: 10, toS: 11 }, 0.1, 100)).toEqual({ fromS: 10, toS: 11 })
  })
})

describe('frame pacer', () => {
  test('draws every frame of a fast device', () => {
    const pacer = new FramePacer()
    const drawn = Array.from({ length: 60 }, (_, k) => pacer.shouldDraw(k * 16.7)).filter(Boolean)
    expect(drawn).toHaveLength(60)
    expect(pacer.capped).toBe(false)
  })

  test('caps at 30 a second once ten frames in a row took more than 20 ms', () => {
    const pacer = new FramePacer()
    for (let k = 0; k <= 10; k++) pacer.shouldDraw(k * 25)
    expect(pacer.capped).toBe(true)
    const drawn = Array.from({ length: 60 }, (_, k) => pacer.shouldDraw(1000 + k * 16.7)).filter(Boolean)
    expect(drawn.length).toBeLessThanOrEqual(31)
  })

  test('a hidden page does not count as slow', () => {
    const pacer = new FramePacer()
    for (let k = 0; k < 30; k++) pacer.shouldDraw(k * 5000)
    expect(pacer.capped).toBe(false)
  })
})

describe('sweep', () => {
  function drawing() {
    const context = {
      canvas: { width: 300, height: 100 },
      clearRect: vi.fn(),
      beginPath: vi.fn(),
      moveTo: vi.fn(),
      lineTo: vi.fn(),
      stroke: vi.fn(),
    }
    const style = { colors: ['a', 'b'], lineWidth: 1, reach: 1, spanS: 30 }
    const sweep = new Sweep(context as unknown as CanvasRenderingContext2D, style)
    return { context, sweep }
  }

  const ring = new SampleRing(100, 2)
  ring.write(0, [new Float32Array(40), new Float32Array(40)])

  test('draws only what is new', () => {
    const { context, sweep } = drawing()
    sweep.drawTo(ring, 1, 10)
    context.lineTo.mockClear()
    sweep.drawTo(ring, 1, 12)
    // Two samples joined to the one before, in two lanes.
    expect(context.lineTo).toHaveBeenCalledTimes(4)
    sweep.drawTo(ring, 1, 12)
    expect(context.lineTo).toHaveBeenCalledTimes(4)
  })

  test('lifts the pen when it returns to the left edge', () => {
    const { context, sweep } = drawing()
    sweep.drawTo(ring, 1, 29)
    context.moveTo.mockClear()
    sweep.drawTo(ring, 1, 32)
    expect(context.moveTo.mock.calls.map(([x]) => x)).toContain(0)
  })

  test('a missing sample leaves a hole in the line', () => {
    const holed = new SampleRing(100, 1)
    holed.write(0, [[0, 0, NaN, 0, 0]])
    const { context, sweep } = drawing()
    sweep.drawTo(holed, 1, 5)
    expect(context.moveTo).toHaveBeenCalledTimes(2)
    expect(context.lineTo).toHaveBeenCalledTimes(2)
  })
})
