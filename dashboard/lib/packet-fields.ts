import { bytesOf, readField } from '#signal/packet/field-type'
import type { FieldType } from '#signal/packet/field-type'
import type { ByteOrder, PacketLayout } from '#signal/packet/layout'
import { orderedChannels } from '#signal/packet/units'
import { hexOf } from './hex'

/** A run of bytes of a packet and what the layout says it is. */
export interface PacketField {
  /** Bytes [from, to). */
  readonly from: number
  readonly to: number
  readonly hex: string
  /** What it is, in words: the picture does not depend on colour. */
  readonly what: string
  /** The raw number, as text; empty for bytes that mean nothing. */
  readonly raw: string
}

const HEADER_WORDS = {
  constant: 'constant',
  counter: 'counter',
  deviceTime: 'device time',
  flags: 'flags',
  sampleCount: 'number of samples',
} as const

/** Every byte of a packet in order, named by the layout; whole samples only, and no sample past the end. */
export function packetFields(layout: PacketLayout, bytes: DataView, count: number): PacketField[] {
  const found: PacketField[] = []
  const add = (offset: number, type: FieldType, order: ByteOrder | undefined, what: string) => {
    const to = offset + bytesOf(type)
    if (to > bytes.byteLength) return
    const raw = readField(bytes, offset, type, (order ?? layout.byteOrder) === 'little')
    found.push({
      from: offset,
      to,
      hex: hexOf(bytes, offset, to),
      what,
      raw: Number.isNaN(raw) ? 'no number' : String(raw),
    })
  }
  for (const [name, words] of Object.entries(HEADER_WORDS)) {
    const field = layout.header?.[name as keyof typeof HEADER_WORDS]
    if (field) add(field.offset, field.type, field.byteOrder, words)
  }
  const { offset, strideBytes } = layout.samples
  for (let i = 0; i < count; i++) {
    for (const channel of orderedChannels(layout)) {
      const symbol = channel.quantity === 'acceleration' ? 'a' : 'ω'
      const at = offset + i * strideBytes + channel.offset
      add(at, channel.type, channel.byteOrder, `sample ${i + 1}, ${symbol}${channel.axis}`)
    }
  }
  found.sort((a, b) => a.from - b.from)
  return withUnused(found, bytes)
}

function withUnused(found: readonly PacketField[], bytes: DataView): PacketField[] {
  const all: PacketField[] = []
  let at = 0
  const fill = (to: number) => {
    if (to > at) all.push({ from: at, to, hex: hexOf(bytes, at, to), what: 'not used', raw: '' })
  }
  for (const field of found) {
    fill(field.from)
    all.push(field)
    at = Math.max(at, field.to)
  }
  fill(bytes.byteLength)
  return all
}
