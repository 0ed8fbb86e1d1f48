import { STANDARD_GRAVITY_MS2 } from '../constants.ts'
import { integerRange } from './field-type.ts'
import type { Channel, PacketLayout } from './layout.ts'

const ACC_MS2 = { 'm/s2': 1, g: STANDARD_GRAVITY_MS2, mg: STANDARD_GRAVITY_MS2 / 1000 } as const
const GYR_RAD_S = { 'rad/s': 1, 'deg/s': Math.PI / 180 } as const

/** The order of channels wherever samples of a layout go: ax ay az, then gx gy gz. */
export function orderedChannels(layout: PacketLayout): Channel[] {
  const place = ({ quantity, axis }: Channel) => (quantity === 'acceleration' ? 0 : 3) + 'xyz'.indexOf(axis)
  return [...layout.channels].sort((a, b) => place(a) - place(b))
}

/** SI value of one unit of a channel: m/s² of specific force (negative when it is turned round) or rad/s. */
export function siPerUnit(layout: PacketLayout, channel: Channel): number {
  if (channel.quantity === 'angular rate') return GYR_RAD_S[layout.gyrUnit ?? 'rad/s']
  return ACC_MS2[layout.accUnit] * (layout.sign === 'gravity' ? -1 : 1)
}

export interface CountScale {
  readonly accMs2PerCount: number
  /** 0 without a gyroscope. */
  readonly gyrRadSPerCount: number
}

/**
 * What one count is worth when every value of the layout is a whole number of counts that fits a signed
 * 16-bit integer, so that samples can travel as exact int16: integers of one size of step per
 * quantity and no bias. Null otherwise. A channel that is turned round (`sign`, negative scale) counts
 * backwards; it fits unless −32768 may occur.
 */
export function scaleOf(layout: PacketLayout): CountScale | null {
  const steps = { acceleration: 0, 'angular rate': 0 }
  for (const channel of layout.channels) {
    const range = integerRange(channel.type)
    if (range === null || (channel.bias ?? 0) !== 0) return null
    const step = channel.scale * siPerUnit(layout, channel)
    const [least, most] = step < 0 ? [-range[1], -lowestValid(range[0], channel)] : range
    if (least < -32768 || most > 32767) return null
    const known = steps[channel.quantity]
    if (known !== 0 && known !== Math.abs(step)) return null
    steps[channel.quantity] = Math.abs(step)
  }
  return { accMs2PerCount: steps.acceleration, gyrRadSPerCount: steps['angular rate'] }
}

function lowestValid(least: number, { invalid }: Channel): number {
  return invalid === least ? least + 1 : least
}

/** Smallest step of the acceleration, m/s²: as stated, else the coarsest integer channel; undefined without. */
export function resolutionOf(layout: PacketLayout): number | undefined {
  if (layout.resolutionMs2 !== undefined) return layout.resolutionMs2
  const axes = layout.channels.filter(({ quantity }) => quantity === 'acceleration')
  if (axes.some(({ type }) => integerRange(type) === null)) return undefined
  return Math.max(...axes.map((channel) => Math.abs(channel.scale * siPerUnit(layout, channel))))
}
