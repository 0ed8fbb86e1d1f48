import type { SessionSummary } from '#protocol/resources'
import { isDated, isSimulated } from './session-order'

/** Which measured sessions the chart of a dog leaves out, and why, in sentences. */
export function leftOutOfChart(sessions: readonly SessionSummary[], demo: boolean): string[] {
  const measured = sessions.filter((session) => session.comparableSwayMs2 !== null)
  const simulated = demo ? [] : measured.filter(isSimulated)
  const undated = measured.filter((session) => !isDated(session) && !simulated.includes(session))
  return [
    ...(simulated.length > 0
      ? [`${counted(simulated.length)} left out: simulated, so no measurement of this dog.`]
      : []),
    ...(undated.length > 0
      ? [`${counted(undated.length)} left out: the date is not known. Open it and add the date with “Edit”.`]
      : []),
  ]
}

const counted = (count: number) => (count === 1 ? '1 session is' : `${count} sessions are`)
