import type { LayoutProblem } from './layout-problem.ts'
import { PACKET_LAYOUT_SCHEMA } from './layout-schema.ts'
import type { LayoutWrite, PacketLayout } from './layout.ts'
import { meaningProblems } from './meaning-problems.ts'
import { structureProblems } from './structure-problems.ts'
import { fullUuid } from './uuid.ts'

/** A layout that cannot be used; `problems` has all that is wrong with it, the rest describes the first. */
export class LayoutError extends Error {
  override readonly name = 'LayoutError'
  readonly path: string
  readonly remedy: string
  readonly problems: readonly LayoutProblem[]

  constructor(problems: readonly LayoutProblem[]) {
    super(problems[0].message)
    this.path = problems[0].path
    this.remedy = problems[0].remedy
    this.problems = problems
  }
}

/** All that is wrong with a layout; empty when it can be used. Meaning is looked at when the structure is whole. */
export function layoutProblems(json: unknown): LayoutProblem[] {
  const problems = structureProblems(json, PACKET_LAYOUT_SCHEMA)
  return problems.length > 0 ? problems : meaningProblems(json as PacketLayout)
}

/**
 * A checked layout, its UUIDs written in full and in lower case.
 *
 * @param json parsed JSON; not modified
 * @throws {LayoutError} with every problem found
 */
export function readLayout(json: unknown): PacketLayout {
  const problems = layoutProblems(json)
  if (problems.length > 0) throw new LayoutError(problems)
  const layout = JSON.parse(JSON.stringify(json)) as PacketLayout
  const inFull = (writes: readonly LayoutWrite[] | undefined) =>
    writes?.map(({ characteristic, bytesHex }) => ({
      characteristic: fullUuid(characteristic),
      bytesHex: bytesHex.toLowerCase(),
    }))
  const { start, stop } = layout
  return {
    ...layout,
    service: fullUuid(layout.service),
    characteristic: fullUuid(layout.characteristic),
    ...(start ? { start: inFull(start) } : {}),
    ...(stop ? { stop: inFull(stop) } : {}),
  }
}
