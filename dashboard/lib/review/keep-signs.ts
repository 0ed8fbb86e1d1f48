import type { FatigueSign, NewRepetitionNote } from '#protocol/session-review'
import { noteWords } from './repetition-rows'

export interface SignKeeper {
  /** Stores a note of the repetition on the server. */
  save(note: NewRepetitionNote): Promise<unknown>
  /** Sets a note mark, which needs no network. */
  mark(words: string): void
}

/** Longer than this nobody waits for an answer during a hold, ms. */
const PATIENCE_MS = 4000

/**
 * Keeps ticked signs of tiring as a note of the repetition; where the server does not take it, or not in time, as
 * a note mark with the same words. Resolves with where they are: nothing that was ticked is lost, at worst it is
 * there twice.
 */
export async function keepSigns(
  keeper: SignKeeper,
  atS: number,
  signs: readonly FatigueSign[],
  text: string,
  patienceMs = PATIENCE_MS,
): Promise<'note' | 'mark'> {
  const note: NewRepetitionNote = { atS, stance: null, signs: [...signs], note: text === '' ? null : text }
  let timer: ReturnType<typeof setTimeout> | undefined
  const late = new Promise<never>((_, reject) => {
    timer = setTimeout(() => reject(new Error('no answer in time')), patienceMs)
  })
  try {
    await Promise.race([keeper.save(note), late])
    return 'note'
  } catch {
    // Whatever the reason was, the words must not wait for it.
    keeper.mark(noteWords(note))
    return 'mark'
  } finally {
    clearTimeout(timer)
  }
}
