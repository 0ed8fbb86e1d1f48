import { bytesOf, moduloOf, readField } from './field-type.ts'
import type { FieldType } from './field-type.ts'
import type { ByteOrder, PacketLayout } from './layout.ts'
import { orderedChannels, siPerUnit } from './units.ts'

export interface DecodedPacket {
  readonly kind: 'samples'
  /** As the packet states it, before unwrapping; null when the layout has none. */
  readonly counter: number | null
  /** In counts of `deviceTime.unitS`; null when the layout has none or the packet holds no finite number. */
  readonly deviceTime: number | null
  readonly flags: number | null
  /** Samples in the packet, 1 or more. */
  readonly count: number
  /**
   * ax ay az, and gx gy gz when the layout has them: m/s² of specific force, rad/s, each of `count` finite
   * values. A lost sample has 0 here.
   */
  readonly values: readonly Float64Array[]
  /** Positions whose value is the layout's "no reading" or no finite number, ascending; mostly empty. */
  readonly lost: readonly number[]
}

export interface PacketFault {
  readonly kind: 'fault'
  readonly code: 'too-short' | 'ragged' | 'empty' | 'cut-off' | 'other-layout' | 'counter-range'
  /** What is wrong with the packet and what that hints at. */
  readonly message: string
}

interface CheckedField {
  readonly offset: number
  readonly type: FieldType
  readonly littleEndian: boolean
}

interface CheckedChannel extends CheckedField {
  /** SI value of one count, and of the count 0. */
  readonly step: number
  readonly zero: number
  readonly invalid: number | undefined
}

const NONE_LOST: readonly number[] = []

/**
 * Turns the bytes of one notification into SI values. Keeps no state between packets: what the counter means
 * over time is for `PacketStream`.
 */
export class PacketDecoder {
  private readonly layout: PacketLayout
  private readonly channels: readonly CheckedChannel[]
  private readonly leastBytes: number
  private readonly counter: CheckedField | null
  private readonly counterModulo: number
  private readonly deviceTime: CheckedField | null
  private readonly flags: CheckedField | null
  private readonly sampleCount: CheckedField | null
  private readonly constant: CheckedField | null

  /** @param layout as `readLayout` returns it: nothing is checked again here */
  constructor(layout: PacketLayout) {
    this.layout = layout
    const { header = {}, samples } = layout
    const checked = (field: { offset: number; type: FieldType; byteOrder?: ByteOrder } | undefined) =>
      field === undefined
        ? null
        : {
            offset: field.offset,
            type: field.type,
            littleEndian: (field.byteOrder ?? layout.byteOrder) === 'little',
          }
    this.channels = orderedChannels(layout).map((channel) => ({
      ...checked(channel)!,
      step: channel.scale * siPerUnit(layout, channel),
      zero: (channel.bias ?? 0) * siPerUnit(layout, channel),
      invalid: channel.invalid,
    }))
    this.counter = checked(header.counter)
    this.counterModulo = header.counter ? (header.counter.modulo ?? moduloOf(header.counter.type)) : 0
    this.deviceTime = checked(header.deviceTime)
    this.flags = checked(header.flags)
    this.sampleCount = checked(header.sampleCount)
    this.constant = checked(header.constant)
    let leastBytes = Math.max(layout.minBytes ?? 0, samples.offset)
    for (const field of [this.counter, this.deviceTime, this.flags, this.sampleCount, this.constant]) {
      if (field) leastBytes = Math.max(leastBytes, field.offset + bytesOf(field.type))
    }
    this.leastBytes = leastBytes
  }

  /** Samples, or what is wrong with the packet. Never throws, whatever the bytes. */
  decode(bytes: DataView): DecodedPacket | PacketFault {
    const { layout } = this
    if (bytes.byteLength < this.leastBytes) {
      return fault(
        'too-short',
        `the packet has ${bytes.byteLength} bytes, but ${this.leastBytes} or more belong to it; ` +
          'is this the characteristic of this layout?',
      )
    }
    if (this.constant !== null) {
      const expected = layout.header!.constant!.value
      const found = read(bytes, this.constant)
      if (found !== expected) {
        return fault(
          'other-layout',
          `byte ${this.constant.offset} says ${found} where this layout has ${expected}; choose the layout of this sensor`,
        )
      }
    }
    const count = this.countOf(bytes)
    if (typeof count !== 'number') return count
    const counter = this.counter === null ? null : read(bytes, this.counter)
    if (counter !== null && counter >= this.counterModulo) {
      return fault(
        'counter-range',
        `the counter says ${counter}, but the layout has it begin again at ${this.counterModulo}`,
      )
    }
    const time = this.deviceTime === null ? NaN : read(bytes, this.deviceTime)
    const values = this.channels.map(() => new Float64Array(count))
    return {
      kind: 'samples',
      counter,
      deviceTime: Number.isFinite(time) ? time : null,
      flags: this.flags === null ? null : read(bytes, this.flags),
      count,
      values,
      lost: this.fill(bytes, values, count),
    }
  }

  private countOf(bytes: DataView): number | PacketFault {
    const { offset, strideBytes, count } = this.layout.samples
    const room = bytes.byteLength - offset
    if (count === 'fill') {
      if (room < strideBytes) return fault('empty', 'the packet holds no sample')
      if (room % strideBytes !== 0) {
        return fault(
          'ragged',
          `${room} bytes of samples are no whole number of samples of ${strideBytes} bytes; ` +
            'was the packet cut off, or is the stride another?',
        )
      }
      return room / strideBytes
    }
    const said = typeof count === 'number' ? count : read(bytes, this.sampleCount!)
    if (said < 1) return fault('empty', 'the packet says that it holds no sample')
    if (said * strideBytes > room) {
      return fault(
        'cut-off',
        `${said} samples need ${said * strideBytes} bytes after byte ${offset}, but ${room} came; ` +
          'the sensor sends more than the connection carries (MTU): let it put fewer samples into a packet',
      )
    }
    return said
  }

  /** Writes the samples and returns the positions that hold no reading. */
  private fill(bytes: DataView, values: readonly Float64Array[], count: number): readonly number[] {
    const { offset, strideBytes } = this.layout.samples
    let lost: number[] | null = null
    for (let i = 0; i < count; i++) {
      const start = offset + i * strideBytes
      let isReading = true
      for (let c = 0; c < this.channels.length; c++) {
        const channel = this.channels[c]
        const raw = readField(bytes, start + channel.offset, channel.type, channel.littleEndian)
        // Also what is finite as sent but not in SI: a value nobody can have measured.
        const value = raw * channel.step + channel.zero
        if (raw === channel.invalid || !Number.isFinite(value)) isReading = false
        else values[c][i] = value
      }
      if (isReading) continue
      for (const channel of values) channel[i] = 0
      ;(lost ??= []).push(i)
    }
    return lost ?? NONE_LOST
  }
}

function read(bytes: DataView, { offset, type, littleEndian }: CheckedField): number {
  return readField(bytes, offset, type, littleEndian)
}

function fault(code: PacketFault['code'], message: string): PacketFault {
  return { kind: 'fault', code, message }
}
