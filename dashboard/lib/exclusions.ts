import type { SessionSummary } from '#protocol/resources'
import type { Report } from '#signal/report-types'
import { clock, duration, significant } from './format'
import { timeWords } from './review/time-words'

/** The report says how to state the mount to a program; a person does it on the screen. */
const HEADING_UNKNOWN =
  'Side to side (ML) and front to back (CC) are not told apart: gravity shows which way is up, not which way the dog faces. If you know how the sensor sat, say it with “Edit” at the top of this page.'

const rows = (count: number) => (count === 1 ? '1 row' : `${count} rows`)

/** What did not enter the measures, and why, in sentences; empty when nothing was left out. */
export function exclusions(report: Report, summary?: Pick<SessionSummary, 'excluded'>): string[] {
  const { quality, mount, holds, session } = report
  const lines: string[] = []
  if (summary?.excluded) {
    lines.push(
      `The whole session, from the trends: ${summary.excluded.reason}. Its figures here stay as they are.`,
    )
  }
  for (const { fromS, toS, reason } of session.leftOutHolds ?? []) {
    const why = reason ?? 'without a reason given'
    lines.push(`The hold from ${timeWords(fromS)} to ${timeWords(toS)}, by a person: ${why}.`)
  }
  for (const { kind, fromS, toS, why } of session.unusedCorrections ?? []) {
    const what = kind === 'set' ? 'A hold set by a person' : 'A hold to be left out'
    lines.push(`${what} from ${timeWords(fromS)} to ${timeWords(toS)} could not be used: ${why}.`)
  }
  if (quality.gaps.length > 0) {
    const lostS = quality.gaps.reduce((sum, gap) => sum + gap.toS - gap.fromS, 0)
    const where = quality.gaps
      .slice(0, 5)
      .map((gap) => clock(gap.fromS))
      .join(', ')
    const more = quality.gaps.length > 5 ? ' and later' : ''
    lines.push(
      `${quality.gaps.length === 1 ? 'One signal gap' : `${quality.gaps.length} signal gaps`}, ${duration(lostS)} together, at ${where}${more}: gaps are never filled in.`,
    )
  }
  if (quality.unusedSamples > 0) {
    lines.push(
      `${rows(quality.unusedSamples)} of the file without a usable sample: not a whole time and three axes.`,
    )
  }
  if (quality.duplicates > 0) {
    const one = quality.duplicates === 1
    lines.push(`${one ? '1 duplicate sample was' : `${quality.duplicates} duplicate samples were`} merged.`)
  }
  if (quality.clippedSamples > 0) {
    lines.push(
      `${quality.clippedSamples} samples at the limit of the sensor: values around them are too small.`,
    )
  }
  if (!mount.headingResolved) lines.push(HEADING_UNKNOWN)
  else if (mount.reason) lines.push(mount.reason)
  if (mount.shiftDeg !== null && mount.shiftDeg > 10) {
    lines.push(`The harness turned by ${significant(mount.shiftDeg, 2)}° during the session.`)
  }
  const lookalikes = holds.flatMap((hold, k) =>
    hold.tremor.bands.flatMap((band) =>
      hold.role === 'exercise' && band.name !== 'sway' && band.lookalike
        ? [`Hold ${k + 1}, ${band.name} band: looks like ${band.lookalike}, so it does not count as tremor.`]
        : [],
    ),
  )
  const bandReasons = new Set(
    holds.flatMap((hold) =>
      hold.tremor.bands.flatMap((band) =>
        band.rms === null && band.reason ? [`${band.name} band: ${band.reason}.`] : [],
      ),
    ),
  )
  const weak = session.comparable.weak
    ? [
        `From what sway is compared by there ${session.comparable.pieces === 1 ? 'is 1 piece' : `are ${session.comparable.pieces} pieces`} of ${session.comparable.pieceS} s only: too few for the trends of sway, which leave it out.`,
      ]
    : []
  return [...lines, ...weak, ...lookalikes, ...bandReasons]
}
