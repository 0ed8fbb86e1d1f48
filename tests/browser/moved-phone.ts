import type { CDPSession, Page } from 'playwright-core'

type Reading = readonly [number, number, number]
/** What the accelerometer of a phone reads, m/s², and its gyroscope, rad/s, at a time in s. */
export type Motion = (tS: number) => { acc: Reading; gyr: Reading }

const SENSORS = ['accelerometer', 'linear-acceleration', 'gyroscope'] as const
/** How often the readings are renewed, ms. */
const STEP_MS = 25

/** Flat on a table, screen up: +9.8 on z in a browser that follows the standard. */
export const LYING: Motion = () => ({ acc: [0, 0, 9.81], gyr: [0, 0, 0] })

/** The same phone in an engine that mirrors all three axes of acceleration (rotation stays right-handed). */
export const MIRRORED =
  (motion: Motion): Motion =>
  (tS) => {
    const { acc, gyr } = motion(tS)
    return { acc: [-acc[0], -acc[1], -acc[2]], gyr }
  }

/** On the back of a dog that sways by about 0.2 m/s² RMS in each direction. */
export const STANDING: Motion = (tS) => ({
  acc: [0.28 * Math.sin(2 * Math.PI * 0.7 * tS), 0.28 * Math.sin(2 * Math.PI * 0.9 * tS + 1), 9.81],
  gyr: [0, 0.3 * Math.sin(2 * Math.PI * 0.7 * tS), 0],
})

/** Motion sensors of a page, moved by the developer tools protocol ("Emulation.setSensorOverrideReadings"). */
export class MovedPhone {
  motion: Motion
  readonly #cdp: CDPSession
  #timer: ReturnType<typeof setInterval> | undefined
  readonly #startMs = performance.now()

  private constructor(cdp: CDPSession, motion: Motion) {
    this.#cdp = cdp
    this.motion = motion
  }

  static async of(page: Page, motion: Motion = LYING): Promise<MovedPhone> {
    const cdp = await page.context().newCDPSession(page)
    for (const type of SENSORS) {
      await cdp.send('Emulation.setSensorOverrideEnabled', {
        enabled: true,
        type,
        metadata: { available: true },
      })
    }
    const phone = new MovedPhone(cdp, motion)
    await phone.#read()
    phone.#timer = setInterval(() => void phone.#read().catch(() => phone.stop()), STEP_MS)
    return phone
  }

  stop() {
    clearInterval(this.#timer)
  }

  async #read() {
    const { acc, gyr } = this.motion((performance.now() - this.#startMs) / 1000)
    const readings = { accelerometer: acc, 'linear-acceleration': [0, 0, 0] as const, gyroscope: gyr }
    for (const type of SENSORS) {
      const [x, y, z] = readings[type]
      await this.#cdp.send('Emulation.setSensorOverrideReadings', { type, reading: { xyz: { x, y, z } } })
    }
  }
}
