import type { SessionSummary } from '#protocol/resources'
import { isSwayHidden } from './sensor-limit'
import { isDated, playedKind } from './session-order'

/** Which measured sessions the chart of a dog leaves out, and why, in sentences. */
export function leftOutOfChart(sessions: readonly SessionSummary[], demo: boolean): string[] {
  const measured = sessions.filter((session) => session.comparableSwayMs2 !== null)
  const played = (kind: 'simulated' | 'replay') =>
    demo ? [] : measured.filter(({ sensor }) => playedKind(sensor) === kind)
  const simulated = played('simulated')
  const replayed = played('replay')
  const own = measured.filter((session) => !simulated.includes(session) && !replayed.includes(session))
  const hidden = own.filter(isSwayHidden)
  const undated = own.filter((session) => !isDated(session) && !isSwayHidden(session))
  return [
    ...(simulated.length > 0
      ? [`${counted(simulated.length)} left out: simulated, so no measurement of this dog.`]
      : []),
    ...(replayed.length > 0
      ? [`${counted(replayed.length)} left out: a trace played again is no new measurement.`]
      : []),
    ...(hidden.length > 0
      ? [`${counted(hidden.length)} left out: sway below what the sensor can measure.`]
      : []),
    ...(undated.length > 0
      ? [`${counted(undated.length)} left out: the date is not known. Open it and add the date with “Edit”.`]
      : []),
  ]
}

const counted = (count: number) => (count === 1 ? '1 session is' : `${count} sessions are`)
