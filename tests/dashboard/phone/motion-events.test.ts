import { describe, expect, it, vi } from 'vitest'
import {
  askForMotion,
  listenToMotion,
  motionSample,
  motionUnavailable,
} from '../../../dashboard/sources/phone/motion-events'
import type { MotionWindow } from '../../../dashboard/sources/phone/motion-events'
import { motionEvent } from './made-motion'

function page(changes: Partial<MotionWindow> = {}): MotionWindow {
  const target = new EventTarget() as unknown as MotionWindow
  return Object.assign(target, {
    isSecureContext: true,
    DeviceMotionEvent: class {},
    performance: { now: () => 5000 },
    ...changes,
  })
}

const asking = (requestPermission: () => Promise<PermissionState>) =>
  page({ DeviceMotionEvent: Object.assign(class {}, { requestPermission }) })

describe('motionSample', () => {
  it('takes acceleration with gravity as it is and rotation in rad/s about x, y, z', () => {
    // Every engine: alpha about x, beta about y, gamma about z (w3c/deviceorientation issue 44).
    const sample = motionSample(motionEvent(4990, [0.1, -0.2, 9.8], [180, 90, -45]), 5000)
    expect(sample).toEqual({
      atMs: 4990,
      acc: [0.1, -0.2, 9.8],
      gyr: [Math.PI, Math.PI / 2, -Math.PI / 4].map((value) => expect.closeTo(value, 12)),
    })
  })

  it('is null for the event of a device without an accelerometer', () => {
    expect(motionSample(motionEvent(4990, null), 5000)).toBeNull()
    const halves = motionEvent(4990, [0, 0, Number.NaN])
    expect(motionSample(halves, 5000)).toBeNull()
  })

  it('knows a phone without a gyroscope', () => {
    expect(motionSample(motionEvent(4990, [0, 0, 9.8]), 5000)?.gyr).toBeNull()
  })

  it('takes the time of arrival when the stamp is on another clock', () => {
    expect(motionSample(motionEvent(1_780_000_000_000, [0, 0, 9.8]), 5000)?.atMs).toBe(5000)
  })
})

describe('askForMotion', () => {
  it('asks wherever the function exists, and needs no answer where it does not', async () => {
    const request = vi.fn(() => Promise.resolve<PermissionState>('granted'))
    expect(await askForMotion(asking(request))).toBeNull()
    expect(request).toHaveBeenCalledOnce()
    expect(await askForMotion(page())).toBeNull()
  })

  it('says what to do when it is denied or was not asked inside a tap', async () => {
    expect(await askForMotion(asking(() => Promise.resolve('denied')))).toContain('close the browser fully')
    const refusing = asking(() => Promise.reject(new DOMException('needs a gesture', 'NotAllowedError')))
    expect(await askForMotion(refusing)).toContain('Tap the button once more')
  })

  it('says that motion data need HTTPS and a browser that has them', async () => {
    expect(await askForMotion(page({ isSecureContext: false }))).toContain('HTTPS')
    expect(motionUnavailable(page({ DeviceMotionEvent: undefined }))).toContain('no motion data')
    expect(motionUnavailable(page())).toBeNull()
  })
})

describe('listenToMotion', () => {
  it('hands over samples until it is ended', () => {
    const target = page()
    const heard: unknown[] = []
    const end = listenToMotion((sample) => heard.push(sample), target)
    const events = target as unknown as EventTarget
    events.dispatchEvent(motionEvent(4990, [0, 0, 9.8]))
    events.dispatchEvent(motionEvent(5006, null))
    end()
    events.dispatchEvent(motionEvent(5023, [0, 0, 9.8]))
    expect(heard).toEqual([{ atMs: 4990, acc: [0, 0, 9.8], gyr: null }, null])
  })
})
