import type { Channel, PacketLayout } from '../../../signal/packet/layout.ts'
import type { FieldType } from '../../../signal/packet/field-type.ts'

/**
 * Writes packets of a layout, byte by byte by arithmetic, so that it shares neither code nor DataView
 * getters with the decoder. For tests only.
 */
export interface Contents {
  readonly counter?: number
  readonly deviceTime?: number
  readonly flags?: number
  /** raw[c][i]: the raw number of the layout's channel c in sample i. */
  readonly raw: readonly (readonly number[])[]
  /** Bytes between the fields, which mean nothing. */
  readonly filler?: number
}

export function encodePacket(layout: PacketLayout, { filler = 0xa5, ...contents }: Contents): DataView {
  const { header = {}, samples, channels } = layout
  const count = contents.raw[0].length
  const bytes = new Uint8Array(
    Math.max(samples.offset + count * samples.strideBytes, layout.minBytes ?? 0),
  ).fill(filler)
  const put = (
    at: { offset: number; type: FieldType; byteOrder?: 'little' | 'big' },
    start: number,
    raw: number,
  ) => {
    const ascending = fieldBytes(at.type, raw)
    const isLittle = (at.byteOrder ?? layout.byteOrder) === 'little'
    bytes.set(isLittle ? ascending : ascending.reverse(), start + at.offset)
  }
  if (header.constant) put(header.constant, 0, header.constant.value)
  if (header.counter) put(header.counter, 0, contents.counter ?? 0)
  if (header.deviceTime) put(header.deviceTime, 0, contents.deviceTime ?? 0)
  if (header.flags) put(header.flags, 0, contents.flags ?? 0)
  if (header.sampleCount) put(header.sampleCount, 0, count)
  channels.forEach((channel: Channel, c) => {
    for (let i = 0; i < count; i++) put(channel, samples.offset + i * samples.strideBytes, contents.raw[c][i])
  })
  return new DataView(bytes.buffer)
}

/** The bytes of a number, least significant first. */
function fieldBytes(type: FieldType, raw: number): number[] {
  if (type === 'f32') return [...new Uint8Array(Float32Array.of(raw).buffer)]
  if (type === 'f64') return [...new Uint8Array(Float64Array.of(raw).buffer)]
  if (type === 'sfloat-11073') return wholeBytes(decimalBits(raw, 12, 4), 2)
  if (type === 'float-11073') return wholeBytes(decimalBits(raw, 24, 8), 4)
  return wholeBytes(BigInt(raw), Number(type.slice(1)) / 8)
}

function wholeBytes(value: bigint, length: number): number[] {
  const unsigned = value < 0n ? value + (1n << BigInt(8 * length)) : value
  return Array.from({ length }, (_, k) => Number((unsigned / 256n ** BigInt(k)) % 256n))
}

/** Mantissa and exponent of a decimal number with few digits, packed as IEEE 11073-20601 does. */
function decimalBits(value: number, mantissaBits: number, exponentBits: number): bigint {
  const [digits, power = '0'] = value.toExponential().split('e')
  const [whole, fraction = ''] = digits.split('.')
  const mantissa = BigInt(whole + fraction)
  const exponent = BigInt(Number(power) - fraction.length)
  const wrap = (n: bigint, bits: number) => (n < 0n ? n + (1n << BigInt(bits)) : n)
  return (wrap(exponent, exponentBits) << BigInt(mantissaBits)) + wrap(mantissa, mantissaBits)
}

/** Bytes from hex digits, spaces allowed. */
export function fromHex(text: string): DataView {
  const digits = text.replace(/\s+/g, '')
  const bytes = Uint8Array.from({ length: digits.length / 2 }, (_, i) =>
    Number.parseInt(digits.slice(2 * i, 2 * i + 2), 16),
  )
  return new DataView(bytes.buffer)
}
