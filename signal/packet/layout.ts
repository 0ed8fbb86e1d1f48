import type { CountingType, FieldType, TimeType } from './field-type.ts'

/**
 * How the notifications of a Bluetooth sensor are built, as data: one JSON object says where the
 * counter, the device time and the samples lie and what a count is worth. `readLayout` checks one,
 * `PacketDecoder` decodes with it, README.md explains every field to the authors of firmware.
 *
 * Offsets are bytes from the start of the packet (of a sample, for a channel). All lengths follow from
 * the attribute value's limit of 512 bytes (Bluetooth Core Specification, Vol 3 Part F, 3.2.9).
 */
export interface PacketLayout {
  /** Version of this language, not of the layout. */
  readonly format: 1
  /** Lower-case letters, digits, hyphens; 1 to 64. The same id and version must mean the same bytes. */
  readonly id: string
  readonly version: number
  readonly name: string
  /** What a person should know before using it. */
  readonly note?: string

  /** 128-bit, lower case, after `readLayout`; a 16-bit number is expanded to its base. */
  readonly service: string
  readonly characteristic: string
  readonly match?: { readonly namePrefix?: string }
  /** Written in order after notifications are switched on, and before they are switched off. */
  readonly start?: readonly LayoutWrite[]
  readonly stop?: readonly LayoutWrite[]

  /** Of every field that does not state its own. */
  readonly byteOrder: ByteOrder
  /** A shorter packet is a fault. Without it: what header and one sample need. */
  readonly minBytes?: number
  readonly header?: PacketHeader
  readonly samples: SampleBlock
  /** Three of acceleration, and none or three of angular rate, in any order. */
  readonly channels: readonly Channel[]
  readonly accUnit: AccUnit
  readonly gyrUnit?: GyrUnit

  readonly nominalRateHz: number
  /** Largest acceleration the sensor can read, m/s²; without it, the limits of the channel's type. */
  readonly rangeMs2?: number
  /** Smallest step of the acceleration, m/s²; without it, the scale of an integer channel. */
  readonly resolutionMs2?: number
  /** At rest the axis that points up reads +1 g (`specific-force`), or −1 g (`gravity`: turned round here). */
  readonly sign: 'specific-force' | 'gravity'
  /** How the sensor sits in its harness, as `parseMount` reads it: `x=cranial,y=left,z=dorsal`. */
  readonly mount?: string
}

export type ByteOrder = 'little' | 'big'
export type AccUnit = 'm/s2' | 'g' | 'mg'
export type GyrUnit = 'rad/s' | 'deg/s'

export interface LayoutWrite {
  readonly characteristic: string
  /** Two hex digits a byte, 1 to 512 bytes. */
  readonly bytesHex: string
}

export interface PacketHeader {
  /** Bytes that tell this layout from others: another value is a fault. */
  readonly constant?: HeaderField & { readonly value: number }
  readonly counter?: CounterField
  readonly deviceTime?: DeviceTimeField
  readonly flags?: FlagsField
  /** How many samples the packet says it holds; used by `samples.count: {field: 'sampleCount'}`. */
  readonly sampleCount?: HeaderField
}

export interface HeaderField {
  readonly offset: number
  readonly type: CountingType
  readonly byteOrder?: ByteOrder
}

export interface CounterField extends HeaderField {
  /** One more for every packet, or for every sample. */
  readonly counts: 'packets' | 'samples'
  /** With `samples`: the number of the first or of the last sample of the packet; first without it. */
  readonly refersTo?: 'first' | 'last'
  /** The counter begins again here; without it, 2 to the bits of its type. */
  readonly modulo?: number
}

export interface DeviceTimeField {
  readonly offset: number
  readonly type: TimeType
  readonly byteOrder?: ByteOrder
  /** Seconds per count: 1e-6 for microseconds. */
  readonly unitS: number
  readonly refersTo: 'first' | 'last'
  /** In counts; without it, 2 to the bits of an integer type; floating point does not wrap. */
  readonly modulo?: number
}

export interface FlagsField extends HeaderField {
  /** Bits by number from 0, the least significant, that say something we can show. */
  readonly batteryLowBit?: number
  readonly clippedBit?: number
}

export interface SampleBlock {
  readonly offset: number
  /** From one sample to the next. */
  readonly strideBytes: number
  /** A number; as many as fill the packet; or as many as `header.sampleCount` says. */
  readonly count: number | 'fill' | { readonly field: 'sampleCount' }
}

export interface Channel {
  readonly quantity: 'acceleration' | 'angular rate'
  readonly axis: 'x' | 'y' | 'z'
  /** From the start of the sample. */
  readonly offset: number
  readonly type: FieldType
  readonly byteOrder?: ByteOrder
  /** Value in the unit of the layout = raw × scale + bias. Negative turns the axis round. */
  readonly scale: number
  readonly bias?: number
  /** A raw value that means "no reading": that sample is lost, its index stays. */
  readonly invalid?: number
}
