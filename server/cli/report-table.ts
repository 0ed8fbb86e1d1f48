import type { BandReport, HoldReport, Report } from '#signal/report-types'

/** The result for people: quality, session, then one line per hold. */
export function reportTable(report: Report): string {
  return [
    ...headLines(report),
    '',
    ...sessionLines(report),
    '',
    ...holdLines(report),
    '',
    ...footLines(report),
    '',
  ].join('\n')
}

function headLines({ trace, quality, mount }: Report): string[] {
  const lines = [
    `Trace      ${trace.file ?? 'standard input'}: ${trace.samples} samples, ${trace.durationS.toFixed(1)} s at ${rateWords(trace.rateHz, quality.effectiveRateHz)}, in ${trace.unit}` +
      (trace.startedAt ? `, started ${trace.startedAt}` : ''),
    `Quality    ${quality.verdict}${quality.reasons.length > 0 ? ':' : ''}`,
    ...quality.reasons.map((reason) => `           - ${reason}`),
    `Mount      ${mount.source}, gravity ${mount.gravity.toFixed(2)} m/s²` +
      (mount.shiftDeg === null ? '' : `, moved ${mount.shiftDeg.toFixed(1)}° by the end`),
  ]
  if (mount.reason) lines.push(`           - ${mount.reason}`)
  if (mount.reference) {
    const { fromS, toS, basis } = mount.reference
    lines.push(`Reference  ${clock(fromS)} to ${clock(toS)} (${basis})`)
  }
  return lines
}

function sessionLines({ session, holds }: Report): string[] {
  const exercise = holds.filter((hold) => hold.role === 'exercise')
  const total = exercise.reduce((sum, hold) => sum + hold.durationS, 0)
  const { fatigue, comparable } = session
  const lines = [
    `Holds      ${exercise.length}, ${total.toFixed(1)} s in all, ` +
      `hands off ${session.handsOffHoldS === null ? 'unknown' : `${session.handsOffHoldS.toFixed(1)} s`}, ` +
      `best ${session.bestHoldS === null ? 'none' : `${session.bestHoldS.toFixed(1)} s`}` +
      (exercise.length < holds.length ? ' (without the quiet stand)' : ''),
  ]
  if (session.reason) lines.push(`           - ${session.reason}`)
  if (comparable.swayRms !== null) {
    lines.push(
      `Comparable sway ${mm(comparable.swayRms)} mm/s² RMS, median of ${comparable.pieces} pieces of ` +
        `${comparable.pieceS} s (${comparable.basis})${comparable.weak ? ', weak' : ''}`,
    )
  }
  if (comparable.reason) lines.push(`           - ${comparable.reason}`)
  if (fatigue.lastOverFirst !== null) {
    lines.push(
      `Tiring     sway of the last of ${session.repetitions.length} repetitions ${fatigue.lastOverFirst.toFixed(2)} times the first ` +
        `(repetitions by ${session.repetitionBasis})`,
    )
  }
  for (const warning of session.planWarnings) lines.push(`Note       ${warning}`)
  return lines
}

const COLUMNS = [
  'from',
  'lasted s',
  'hands off s',
  'ended by',
  'sway mm/s²',
  '95 % interval',
  'ellipse (mm/s²)²',
  'tremor mm/s²',
  'peak',
]

function holdLines({ holds }: Report): string[] {
  if (holds.length === 0) return ['No stable hold of 1 s or more was found.']
  const rows = [COLUMNS, ...holds.map(holdCells)]
  const widths = COLUMNS.map((_, c) => Math.max(...rows.map((row) => row[c].length)))
  const lines = rows.map((row) => row.map((cell, c) => cell.padStart(widths[c])).join('  '))
  // What is said about a hold, and whether it is the quiet stand, stands behind its line.
  return lines.map((line, i) => (i === 0 ? line : line + holdNote(holds[i - 1])))
}

function holdCells(hold: HoldReport): string[] {
  const { sway, tremor } = hold
  return [
    clock(hold.fromS),
    hold.durationS.toFixed(1),
    hold.handsOffS === null ? '?' : hold.handsOffS.toFixed(1),
    hold.endedBy,
    mm(sway.rms.horizontal),
    sway.rmsInterval ? `${mm(sway.rmsInterval[0])}–${mm(sway.rmsInterval[1])}` : '–',
    (sway.ellipse.area * 1e6).toFixed(0),
    tremor.bands[0].rms === null ? '–' : mm(tremor.bands[0].rms),
    peakWords(tremor.bands[0]),
  ]
}

function holdNote({ role, reason }: HoldReport): string {
  const notes = [...(role === 'quiet stand' ? ['quiet stand'] : []), ...(reason ? [reason] : [])]
  return notes.length > 0 ? `  (${notes.join('; ')})` : ''
}

/** The sensor's rate, and the even rate it was measured at when that is another. */
function rateWords(rateHz: number, sensorHz: number): string {
  const shown = Number(sensorHz.toFixed(1))
  return Math.abs(sensorHz / rateHz - 1) < 0.02 ? `${rateHz} Hz` : `${shown} Hz (measured at ${rateHz} Hz)`
}

function peakWords(band: BandReport): string {
  if (band.rms === null) return 'not measured'
  if (!band.distinct || band.peakHz === null) return 'no distinct peak'
  return `${band.peakHz.toFixed(1)} Hz${band.lookalike ? ` (${band.lookalike}?)` : ''}`
}

function footLines({ holds }: Report): string[] {
  if (holds.length === 0) return []
  const [band] = holds[0].tremor.bands
  return [
    'Sway is the horizontal RMS below 3.5 Hz; the ellipse is the 95 % prediction ellipse of ML and CC (exact F);',
    `tremor is the RMS from ${band.fromHz} to ${band.toHz} Hz. Numbers describe this recording; they are no diagnosis.`,
    'Whether to go on, cut back or ask is for the therapist and the vet.',
  ]
}

function mm(ms2: number): string {
  const value = ms2 * 1000
  return value.toFixed(value < 100 ? 1 : 0)
}

function clock(seconds: number): string {
  return `${Math.floor(seconds / 60)}:${(seconds % 60).toFixed(1).padStart(4, '0')}`
}
