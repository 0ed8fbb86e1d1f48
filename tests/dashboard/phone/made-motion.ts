import type { MotionSample } from '../../../dashboard/sources/phone/motion-events'

/** A `devicemotion` event as engines make it; null for what a device does not have. */
export function motionEvent(
  timeStamp: number,
  acc: readonly [number, number, number] | null,
  rate: readonly [number, number, number] | null = null,
): DeviceMotionEvent {
  const event = new Event('devicemotion')
  Object.defineProperties(event, {
    timeStamp: { value: timeStamp },
    accelerationIncludingGravity: { value: acc && { x: acc[0], y: acc[1], z: acc[2] } },
    rotationRate: { value: rate && { alpha: rate[0], beta: rate[1], gamma: rate[2] } },
  })
  return event as DeviceMotionEvent
}

/** Stamps of `count` events at a rate, each moved by what `jitterMs` gives. */
export function stamps(count: number, rateHz: number, jitterMs: (i: number) => number = () => 0): number[] {
  return Array.from({ length: count }, (_, i) => 1000 + (1000 * i) / rateHz + jitterMs(i))
}

export function lying(
  stampsMs: readonly number[],
  acc: (i: number) => readonly [number, number, number] = () => [0, 0, 9.8],
  hasGyroscope = true,
): MotionSample[] {
  return stampsMs.map((atMs, i) => {
    const [x, y, z] = acc(i)
    return { atMs, acc: [x, y, z], gyr: hasGyroscope ? [0, 0, 0] : null }
  })
}
