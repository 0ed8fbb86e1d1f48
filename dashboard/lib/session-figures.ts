import type { SessionSummary } from '#protocol/resources'
import type { Report } from '#signal/report-types'
import { acceleration, decimal, duration, multiple, percent } from './format'
import type { AccelerationUnit } from './format'
import { isHidden, sensorLimit, underLimit } from './sensor-limit'

export interface Figure {
  name: string
  /** Value and unit together, or null when there is none. */
  value: string | null
  /** What it means, or why there is no value. */
  words: string
  /** One of those that are read first. */
  main: boolean
}

/** The numbers at the top of a session, each with what it means in words; the main ones first. */
export function sessionFigures(report: Report, summary: SessionSummary, unit: AccelerationUnit): Figure[] {
  const { session } = report
  const holds = report.holds.filter((hold) => hold.role === 'exercise')
  const why = session.reason ?? 'not supported by this recording'
  const pieces = session.comparable
  const comparable = pieces.swayRms === null ? null : acceleration(pieces.swayRms, unit)
  const { lastOverFirst, slopePerRepetition, reason } = session.fatigue
  const slope = slopePerRepetition === null ? null : acceleration(slopePerRepetition, unit)
  const limit = sensorLimit(report.quality, summary.sensor)
  /** A sway that the steps of the sensor hide is told as such. */
  const told = (figure: Figure, swayMs2: number | null): Figure =>
    swayMs2 !== null && isHidden(swayMs2, limit)
      ? { ...figure, value: underLimit(limit, unit), words: `${limit.words}; ${figure.words}` }
      : figure
  return [
    {
      name: 'Hands-off hold time',
      value: session.handsOffHoldS === null ? null : duration(session.handsOffHoldS),
      words:
        session.handsOffHoldS === null
          ? `${why}. All holds together: ${duration(holds.reduce((sum, hold) => sum + hold.durationS, 0))}.`
          : 'the dog standing on its own, all holds together',
      main: true,
    },
    {
      name: 'Best hold',
      value: session.bestHoldS === null ? null : duration(session.bestHoldS),
      words: session.bestHoldS === null ? why : 'the longest unbroken one',
      main: true,
    },
    told({ ...wholeHolds('Sway, whole holds', summary.swayMs2, unit), main: true }, summary.swayMs2),
    {
      name: 'Tiring',
      value: lastOverFirst === null ? null : multiple(lastOverFirst),
      words:
        lastOverFirst === null
          ? (reason ?? why)
          : `sway of the last repetition over the first${slope ? `; ${slope.value} ${slope.unit} per repetition` : ''}`,
      main: true,
    },
    {
      name: 'Holds',
      value: decimal(holds.length, 0),
      words: `in ${session.repetitions.length === 1 ? '1 repetition' : `${session.repetitions.length} repetitions`} (${session.repetitionBasis === 'marks' ? 'as marked' : 'told apart by the pauses'})`,
      main: false,
    },
    {
      name: 'Support share',
      value: session.supportShare === null ? null : percent(session.supportShare),
      words:
        session.supportShare === null ? 'nobody marked hands-on and hands-off' : 'of the hold time hands-on',
      main: false,
    },
    wholeHolds('Tremor, whole holds', summary.tremorMs2, unit),
    told(
      {
        name: 'Sway to compare',
        value: comparable === null ? null : `${comparable.value} ${comparable.unit}`,
        words:
          comparable === null
            ? (pieces.reason ?? why)
            : `median over ${pieces.pieces} ${pieces.pieces === 1 ? 'piece' : 'pieces'} of ${pieces.pieceS} s of ${pieces.basis}${pieces.weak ? '; too few to rely on' : ''}${pieces.reason ? `; ${pieces.reason}` : ''}`,
        main: false,
      },
      pieces.swayRms,
    ),
  ]
}

function wholeHolds(name: string, valueMs2: number | null, unit: AccelerationUnit): Figure {
  if (valueMs2 === null) return { name, value: null, words: 'no hold is long and clean enough', main: false }
  const { value, unit: shown } = acceleration(valueMs2, unit)
  return { name, value: `${value} ${shown}`, words: 'median over holds of at least 2 s', main: false }
}
