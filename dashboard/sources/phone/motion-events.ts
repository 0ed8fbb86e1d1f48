/** One `devicemotion` event in SI units and the phone's own axes, signs as the browser gave them. */
export interface MotionSample {
  /** Clock of `performance.now()`, ms. */
  readonly atMs: number
  /** Acceleration with gravity, m/s²: x to the right of the screen, y to its top, z out of it. */
  readonly acc: readonly [number, number, number]
  /** rad/s about the same axes; null without a gyroscope. */
  readonly gyr: readonly [number, number, number] | null
}

/** A stamp further than this from now is on another clock (old engines count from 1970), ms. */
const STAMP_WINDOW_MS = 60_000
const RAD_PER_DEG = Math.PI / 180

/**
 * What an event says, or null when this device has no accelerometer (a computer sends one event of
 * nulls). Every engine gives alpha, beta, gamma as the rates about x, y, z, which the standard now says
 * too (w3c/deviceorientation issue 44); `interval` is not looked at: its unit differs between engines.
 */
export function motionSample(event: DeviceMotionEvent, nowMs: number): MotionSample | null {
  const { accelerationIncludingGravity: acc, rotationRate: rate } = event
  if (!acc || !isNumber(acc.x) || !isNumber(acc.y) || !isNumber(acc.z)) return null
  const isOnOurClock = Math.abs(event.timeStamp - nowMs) < STAMP_WINDOW_MS
  const hasRate = rate && isNumber(rate.alpha) && isNumber(rate.beta) && isNumber(rate.gamma)
  return {
    atMs: isOnOurClock ? event.timeStamp : nowMs,
    acc: [acc.x, acc.y, acc.z],
    gyr: hasRate ? [rate.alpha! * RAD_PER_DEG, rate.beta! * RAD_PER_DEG, rate.gamma! * RAD_PER_DEG] : null,
  }
}

function isNumber(value: number | null | undefined): value is number {
  return typeof value === 'number' && Number.isFinite(value)
}

/** The parts of a window used here, so that tests can pass a made one. */
export interface MotionWindow {
  readonly isSecureContext: boolean
  readonly DeviceMotionEvent?: object
  readonly performance: Pick<Performance, 'now'>
  addEventListener(type: 'devicemotion', listener: (event: DeviceMotionEvent) => void): void
  removeEventListener(type: 'devicemotion', listener: (event: DeviceMotionEvent) => void): void
}

/** Why this page gets no motion data and what to do, or null when it may ask for them. */
export function motionUnavailable(page: MotionWindow = window): string | null {
  if (!page.isSecureContext) {
    return (
      'This page was not opened over HTTPS, and browsers give motion data to secure pages only. ' +
      'Open Swaybook under an address that begins with https://.'
    )
  }
  if (page.DeviceMotionEvent === undefined) {
    return 'This browser gives no motion data. Open the link in the browser that came with the phone.'
  }
  return null
}

interface Asking {
  requestPermission?: () => Promise<PermissionState>
}

/**
 * Asks for motion data where the browser wants to be asked; must run inside a tap. Which browsers want it
 * changes (first those of iOS, since 2026 others), so it is asked wherever the function exists.
 * Returns null when granted, else what to tell.
 */
export async function askForMotion(page: MotionWindow = window): Promise<string | null> {
  const unavailable = motionUnavailable(page)
  if (unavailable !== null) return unavailable
  const { requestPermission } = page.DeviceMotionEvent as Asking
  if (!requestPermission) return null
  try {
    if ((await requestPermission.call(page.DeviceMotionEvent)) === 'granted') return null
    return (
      'The browser was told not to give motion data to this page. Allow motion sensors in its settings for ' +
      'this page, or close the browser fully and open the link again: then it asks anew.'
    )
  } catch (error) {
    return `The browser refused to ask for motion data (${(error as Error).name}). Tap the button once more.`
  }
}

/** Calls back for every sample, and with null for an event without data; returns the remover. */
export function listenToMotion(
  onSample: (sample: MotionSample | null) => void,
  page: MotionWindow = window,
): () => void {
  const listener = (event: DeviceMotionEvent) => onSample(motionSample(event, page.performance.now()))
  page.addEventListener('devicemotion', listener)
  return () => page.removeEventListener('devicemotion', listener)
}
