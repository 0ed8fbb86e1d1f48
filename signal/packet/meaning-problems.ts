import { parseMount } from '../mount/mount.ts'
import type { LayoutProblem } from './layout-problem.ts'
import { bytesOf, integerRange, moduloOf } from './field-type.ts'
import type { Channel, PacketHeader, PacketLayout } from './layout.ts'

const MAX_BYTES = 512

/** A field and the bytes it takes, [from, to). */
interface Span {
  readonly path: string
  readonly from: number
  readonly to: number
}

/**
 * How the parts of a layout fail to go together: fields over one another or outside their place, axes
 * missing or twice, numbers a type cannot hold.
 *
 * @param layout sound in structure
 */
export function meaningProblems(layout: PacketLayout): LayoutProblem[] {
  return [
    ...placeProblems(layout),
    ...headerProblems(layout.header ?? {}),
    ...countProblems(layout),
    ...channelProblems(layout),
    ...axisProblems(layout),
    ...readingProblems(layout),
  ]
}

function problem(path: string, message: string, remedy: string): LayoutProblem {
  return { kind: 'meaning', path, message, remedy }
}

/** The header's fields with their bytes. */
function headerSpans(header: PacketHeader): Span[] {
  return Object.entries(header)
    .filter(([, field]) => field !== undefined)
    .map(([name, { offset, type }]) => ({
      path: `header.${name}`,
      from: offset,
      to: offset + bytesOf(type),
    }))
}

function placeProblems({ header = {}, samples, minBytes }: PacketLayout): LayoutProblem[] {
  const { offset, strideBytes, count } = samples
  const inHeader = headerSpans(header)
  const end = offset + strideBytes * (typeof count === 'number' ? count : 1)
  const problems = inHeader
    .filter(({ to }) => to > MAX_BYTES)
    .map(({ path, to }) =>
      problem(`${path}.offset`, `${path} would end at byte ${to}`, 'A packet has 512 bytes at most.'),
    )
  if (end > MAX_BYTES) {
    const message = `the samples would end at byte ${end}`
    problems.push(
      problem('samples', message, 'A packet has 512 bytes at most: fewer samples, or an earlier offset.'),
    )
  }
  // Any number of samples may follow where the packet itself says how many.
  const block = { path: 'samples', from: offset, to: typeof count === 'number' ? end : MAX_BYTES }
  problems.push(...overlaps([...inHeader, block]))
  const leastBytes = Math.max(offset + strideBytes, ...inHeader.map(({ to }) => to))
  if (minBytes !== undefined && minBytes < leastBytes) {
    const message = `minBytes is ${minBytes}, but header and one sample need ${leastBytes}`
    problems.push(problem('minBytes', message, `Give ${leastBytes} or more, or leave it out.`))
  }
  return problems
}

function overlaps(spans: readonly Span[]): LayoutProblem[] {
  return spans.flatMap((a, i) =>
    spans
      .slice(i + 1)
      .filter((b) => a.from < b.to && b.from < a.to)
      .map((b) => {
        const later = b.from >= a.from ? b : a
        const earlier = later === b ? a : b
        return problem(
          `${later.path}.offset`,
          `${later.path} begins at byte ${later.from}, inside ${earlier.path}`,
          `Put it at byte ${earlier.to} or later, or correct ${earlier.path}.`,
        )
      }),
  )
}

function headerProblems({ constant, counter, deviceTime, flags }: PacketHeader): LayoutProblem[] {
  const problems: LayoutProblem[] = []
  if (constant && constant.value >= moduloOf(constant.type)) {
    const message = `${constant.value} does not fit ${constant.type}`
    problems.push(problem('header.constant.value', message, 'Give a smaller value or a larger type.'))
  }
  for (const [name, field] of Object.entries({ counter, deviceTime })) {
    const range = field && integerRange(field.type)
    if (field?.modulo !== undefined && range && field.modulo > range[1] + 1) {
      const message = `a ${field.type} cannot count to ${field.modulo}`
      problems.push(
        problem(`header.${name}.modulo`, message, `Give ${range[1] + 1} or less, or leave it out.`),
      )
    }
  }
  if (counter?.counts === 'packets' && counter.refersTo !== undefined) {
    const message = 'a counter of packets refers to no sample'
    problems.push(
      problem('header.counter.refersTo', message, 'Leave it out, or let the counter count samples.'),
    )
  }
  for (const name of ['batteryLowBit', 'clippedBit'] as const) {
    const bit = flags?.[name]
    if (flags && bit !== undefined && bit >= bytesOf(flags.type) * 8) {
      const message = `${flags.type} has no bit ${bit}`
      problems.push(problem(`header.flags.${name}`, message, `Give ${bytesOf(flags.type) * 8 - 1} or less.`))
    }
  }
  return problems
}

function countProblems({ header, samples }: PacketLayout): LayoutProblem[] {
  if (typeof samples.count !== 'object' || header?.sampleCount) return []
  const message = 'samples.count asks for header.sampleCount, which is not there'
  return [problem('samples.count', message, 'Describe header.sampleCount, or use "fill" or a number.')]
}

function channelProblems({ channels, samples }: PacketLayout): LayoutProblem[] {
  const spans = channels.map(({ offset, type }, i) => ({
    path: `channels[${i}]`,
    from: offset,
    to: offset + bytesOf(type),
  }))
  const outside = spans
    .filter(({ to }) => to > samples.strideBytes)
    .map(({ path, to }) => {
      const message = `${path} ends at byte ${to} of the sample, which has ${samples.strideBytes}`
      return problem(`${path}.offset`, message, 'Correct its offset or type, or samples.strideBytes.')
    })
  return [...outside, ...overlaps(spans), ...channels.flatMap(numberProblems)]
}

function numberProblems({ scale, type, invalid }: Channel, i: number): LayoutProblem[] {
  const path = `channels[${i}]`
  const problems: LayoutProblem[] = []
  if (scale === 0) {
    problems.push(problem(`${path}.scale`, `${path}.scale is 0`, 'Give what one count is worth in the unit.'))
  }
  const range = integerRange(type)
  if (
    range &&
    invalid !== undefined &&
    !(Number.isInteger(invalid) && invalid >= range[0] && invalid <= range[1])
  ) {
    const message = `${invalid} is no value of ${type}`
    problems.push(problem(`${path}.invalid`, message, `Give a whole number from ${range[0]} to ${range[1]}.`))
  }
  return problems
}

function axisProblems({ channels, gyrUnit }: PacketLayout): LayoutProblem[] {
  const problems: LayoutProblem[] = []
  const hasGyroscope = channels.some(({ quantity }) => quantity === 'angular rate')
  const quantities = hasGyroscope ? (['acceleration', 'angular rate'] as const) : (['acceleration'] as const)
  for (const quantity of quantities) {
    for (const axis of ['x', 'y', 'z'] as const) {
      const same = channels.flatMap((c, i) => (c.quantity === quantity && c.axis === axis ? [i] : []))
      if (same.length === 0) {
        problems.push(problem('channels', `${quantity} ${axis} is missing`, 'Describe all three axes.'))
      }
      for (const i of same.slice(1)) {
        const message = `channels[${i}] is ${quantity} ${axis} again`
        problems.push(problem(`channels[${i}].axis`, message, 'Give every axis once.'))
      }
    }
  }
  if (hasGyroscope && gyrUnit === undefined) {
    problems.push(problem('gyrUnit', 'the unit of the angular rate is missing', 'Give "rad/s" or "deg/s".'))
  }
  if (!hasGyroscope && gyrUnit !== undefined) {
    const message = 'gyrUnit is given, but no channel is an angular rate'
    problems.push(problem('gyrUnit', message, 'Leave it out, or describe the three channels.'))
  }
  return problems
}

function readingProblems({ rangeMs2, resolutionMs2, mount }: PacketLayout): LayoutProblem[] {
  const problems: LayoutProblem[] = []
  if (rangeMs2 !== undefined && resolutionMs2 !== undefined && resolutionMs2 >= rangeMs2) {
    const message = `the smallest step, ${resolutionMs2} m/s², is not below the largest reading, ${rangeMs2} m/s²`
    problems.push(problem('resolutionMs2', message, 'Correct one of them.'))
  }
  if (mount !== undefined) {
    try {
      parseMount(mount)
    } catch (error) {
      const { message } = error as RangeError
      problems.push(problem('mount', message, 'Give two or three axes, as in x=cranial,y=left,z=dorsal.'))
    }
  }
  return problems
}
