const FIRST_MS = 500
const LONGEST_MS = 15_000

/**
 * Milliseconds to wait before reconnect attempt `attempt` (0 first): full jitter below a limit
 * that doubles from 0.5 s to 15 s, so that many browsers do not come back at the same instant.
 */
export function reconnectDelayMs(attempt: number, random: () => number): number {
  return Math.round(random() * Math.min(LONGEST_MS, FIRST_MS * 2 ** Math.min(attempt, 10)))
}
