import { seeded } from '../signal/trace/made-trace.ts'

/** What one round makes of its random numbers: the input, in words how it came about, and what is done with it. */
export interface Round<T> {
  readonly text: string
  readonly how: string
  readonly judge: () => T
}

/** The seed of all rounds; another one by SWAYBOOK_FUZZ_SEED, for long searches apart from the tests. */
export const SEED = Number(process.env.SWAYBOOK_FUZZ_SEED ?? 20_260_314)
/** How many times the usual number of rounds, by SWAYBOOK_FUZZ_TIMES. */
const TIMES = Number(process.env.SWAYBOOK_FUZZ_TIMES ?? 1)
const SHOWN = 1500

/**
 * Runs `count` rounds, each on random numbers of its own, and counts how they ended. A failing round is named with
 * its seed and shown with its input: `SWAYBOOK_FUZZ_SEED=<seed>` makes it the first round of the next run.
 */
export function runRounds<T extends string>(
  count: number,
  make: (choose: () => number) => Round<T>,
): Partial<Record<T, number>> {
  const ends: Partial<Record<T, number>> = {}
  for (let i = 0; i < count * TIMES; i++) {
    const seed = SEED + i
    const round = make(seeded(Math.imul(seed, 0x9e3779b1)))
    let end: T
    try {
      end = round.judge()
    } catch (error) {
      const input = JSON.stringify(round.text.slice(0, SHOWN))
      const rest = round.text.length > SHOWN ? ` … (${round.text.length} characters)` : ''
      throw new Error(`seed ${seed}: ${round.how}\n${String(error)}\ninput: ${input}${rest}`, {
        cause: error,
      })
    }
    ends[end] = (ends[end] ?? 0) + 1
  }
  return ends
}

export const below = (n: number, choose: () => number): number => Math.floor(choose() * n)
export const pick = <T>(list: ArrayLike<T>, choose: () => number): T => list[below(list.length, choose)]
