import { layoutProblems } from '#signal/packet/check-layout'
import type { LayoutProblem } from '#signal/packet/layout-problem'
import type { ByteOrder, Channel, PacketLayout } from '#signal/packet/layout'
import { plainMessage } from './layout-words'
import type { CountingType, FieldType, TimeType } from '#signal/packet/field-type'

/** A number input gives null or undefined when it is empty. */
type NumberInput = number | null | undefined

export interface DraftField<T extends FieldType = CountingType> {
  offset: NumberInput
  type: T
  byteOrder?: ByteOrder | ''
}

export interface DraftWrite {
  characteristic: string
  bytesHex: string
}

export interface DraftChannel {
  quantity: Channel['quantity']
  axis: Channel['axis']
  offset: NumberInput
  type: FieldType
  byteOrder: ByteOrder | ''
  scale: NumberInput
  bias: NumberInput
  invalid: NumberInput
}

/** A layout as a form holds it: every input has its place, whether the layout has it or not. */
export interface LayoutDraft {
  id: string
  version: number
  name: string
  note: string
  service: string
  characteristic: string
  namePrefix: string
  start: DraftWrite[]
  stop: DraftWrite[]
  byteOrder: ByteOrder
  minBytes: NumberInput
  hasConstant: boolean
  constant: DraftField & { value: NumberInput }
  hasCounter: boolean
  counter: DraftField & { counts: 'packets' | 'samples'; refersTo: 'first' | 'last'; modulo: NumberInput }
  hasDeviceTime: boolean
  deviceTime: DraftField<TimeType> & { unitS: NumberInput; refersTo: 'first' | 'last'; modulo: NumberInput }
  hasFlags: boolean
  flags: DraftField & { batteryLowBit: NumberInput; clippedBit: NumberInput }
  hasSampleCount: boolean
  sampleCount: DraftField
  samplesOffset: NumberInput
  strideBytes: NumberInput
  countBy: 'fill' | 'number' | 'field'
  count: NumberInput
  channels: DraftChannel[]
  accUnit: PacketLayout['accUnit']
  gyrUnit: NonNullable<PacketLayout['gyrUnit']>
  nominalRateHz: NumberInput
  rangeMs2: NumberInput
  resolutionMs2: NumberInput
  sign: PacketLayout['sign']
  mount: string
}

/** The form's start for a layout. */
export function draftOf(layout: PacketLayout): LayoutDraft {
  const { header = {}, samples } = layout
  return {
    id: layout.id,
    version: layout.version,
    name: layout.name,
    note: layout.note ?? '',
    service: layout.service,
    characteristic: layout.characteristic,
    namePrefix: layout.match?.namePrefix ?? '',
    start: (layout.start ?? []).map((write) => ({ ...write })),
    stop: (layout.stop ?? []).map((write) => ({ ...write })),
    byteOrder: layout.byteOrder,
    minBytes: layout.minBytes,
    hasConstant: !!header.constant,
    constant: { offset: 0, type: 'u8', value: 0, ...ordered(header.constant) },
    hasCounter: !!header.counter,
    counter: {
      offset: 0,
      type: 'u16',
      counts: 'samples',
      refersTo: 'first',
      modulo: null,
      ...ordered(header.counter),
    },
    hasDeviceTime: !!header.deviceTime,
    deviceTime: {
      offset: 0,
      type: 'u32',
      unitS: 1e-6,
      refersTo: 'first',
      modulo: null,
      ...ordered(header.deviceTime),
    },
    hasFlags: !!header.flags,
    flags: { offset: 0, type: 'u8', batteryLowBit: null, clippedBit: null, ...ordered(header.flags) },
    hasSampleCount: !!header.sampleCount,
    sampleCount: { offset: 0, type: 'u8', ...ordered(header.sampleCount) },
    samplesOffset: samples.offset,
    strideBytes: samples.strideBytes,
    countBy:
      typeof samples.count === 'object' ? 'field' : typeof samples.count === 'number' ? 'number' : 'fill',
    count: typeof samples.count === 'number' ? samples.count : 1,
    channels: layout.channels.map((channel) => ({ byteOrder: '', bias: null, invalid: null, ...channel })),
    accUnit: layout.accUnit,
    gyrUnit: layout.gyrUnit ?? 'deg/s',
    nominalRateHz: layout.nominalRateHz,
    rangeMs2: layout.rangeMs2,
    resolutionMs2: layout.resolutionMs2,
    sign: layout.sign,
    mount: layout.mount ?? '',
  }
}

function ordered<T extends object>(field: T | undefined): (T & { byteOrder: ByteOrder | '' }) | object {
  return { byteOrder: '', ...field }
}

/** The JSON that a draft stands for, with what is empty left out; to be checked before it is used. */
export function jsonOf(draft: LayoutDraft): unknown {
  const { hasConstant, hasCounter, hasDeviceTime, hasFlags, hasSampleCount } = draft
  const { refersTo, ...counter } = draft.counter
  const header = {
    ...(hasConstant ? { constant: draft.constant } : {}),
    ...(hasCounter ? { counter: counter.counts === 'samples' ? { ...counter, refersTo } : counter } : {}),
    ...(hasDeviceTime ? { deviceTime: draft.deviceTime } : {}),
    ...(hasFlags ? { flags: draft.flags } : {}),
    ...(hasSampleCount ? { sampleCount: draft.sampleCount } : {}),
  }
  const hasGyroscope = draft.channels.some(({ quantity }) => quantity === 'angular rate')
  return withoutEmpty({
    format: 1,
    id: draft.id,
    version: draft.version,
    name: draft.name,
    note: draft.note,
    service: draft.service.trim(),
    characteristic: draft.characteristic.trim(),
    match: draft.namePrefix === '' ? undefined : { namePrefix: draft.namePrefix },
    start: writesOf(draft.start),
    stop: writesOf(draft.stop),
    byteOrder: draft.byteOrder,
    minBytes: draft.minBytes,
    header: Object.keys(header).length === 0 ? undefined : header,
    samples: {
      offset: draft.samplesOffset,
      strideBytes: draft.strideBytes,
      count:
        draft.countBy === 'number'
          ? draft.count
          : draft.countBy === 'field'
            ? { field: 'sampleCount' }
            : 'fill',
    },
    channels: draft.channels,
    accUnit: draft.accUnit,
    gyrUnit: hasGyroscope ? draft.gyrUnit : undefined,
    nominalRateHz: draft.nominalRateHz,
    rangeMs2: draft.rangeMs2,
    resolutionMs2: draft.resolutionMs2,
    sign: draft.sign,
    mount: draft.mount.trim(),
  })
}

function writesOf(writes: readonly DraftWrite[]) {
  if (writes.length === 0) return undefined
  return writes.map(({ characteristic, bytesHex }) => ({
    // Kept when empty, so that it is asked for.
    characteristic: characteristic.trim() || ' ',
    bytesHex: bytesHex.replace(/\s+/g, '') || ' ',
  }))
}

/** Inputs that are empty say nothing: their names go. */
function withoutEmpty(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(withoutEmpty)
  if (typeof value !== 'object' || value === null) return value
  const entries = Object.entries(value).filter(
    ([, inner]) => inner !== undefined && inner !== null && inner !== '',
  )
  return Object.fromEntries(entries.map(([name, inner]) => [name, withoutEmpty(inner)]))
}

/** Three channels of angular rate after the last one of acceleration, for a person to correct. */
export function addGyroscope(draft: LayoutDraft): void {
  const end = draft.strideBytes ?? 6
  for (const [i, axis] of (['x', 'y', 'z'] as const).entries()) {
    draft.channels.push({
      quantity: 'angular rate',
      axis,
      offset: end + 2 * i,
      type: 'i16',
      byteOrder: '',
      scale: 0.015625,
      bias: null,
      invalid: null,
    })
  }
  draft.strideBytes = end + 6
}

export function removeGyroscope(draft: LayoutDraft): void {
  draft.channels = draft.channels.filter(({ quantity }) => quantity === 'acceleration')
}

/** Problems by the field they belong to. */
export class DraftProblems {
  readonly all: readonly LayoutProblem[]

  constructor(json: unknown) {
    this.all = layoutProblems(json)
  }

  /** What to write beside a field; empty when it is right. */
  at(path: string): string {
    return this.all
      .filter((problem) => problem.path === path)
      .map(({ kind, message, remedy }) =>
        // Of a wrong value the person sees what it is: what belongs there is enough.
        kind === 'structure' ? remedy : `${sentence(plainMessage(message))} ${remedy}`,
      )
      .join(' ')
  }
}

function sentence(message: string): string {
  return `${message[0].toUpperCase()}${message.slice(1)}.`
}
