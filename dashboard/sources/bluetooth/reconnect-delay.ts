const DELAYS_S = [0, 1, 2, 4, 8] as const
/** Share by which a wait may differ, so that two devices after one sensor do not keep step. */
const JITTER = 0.2

/** Milliseconds before reconnect attempt `attempt` (0 first): 0, 1, 2, 4, 8, 8, … s, each ± 20 %. */
export function sensorReconnectDelayMs(attempt: number, random: () => number): number {
  const delayS = DELAYS_S[Math.min(attempt, DELAYS_S.length - 1)]
  return Math.round(1000 * delayS * (1 + JITTER * (2 * random() - 1)))
}
