import type { SessionSummary } from '#protocol/resources'
import type { MovedNumber } from '../upkeep/moved-numbers.ts'
import type { Reanalysed } from '../upkeep/reanalyse.ts'

/** Counts what became of sessions, and puts it into words. */
export class ReanalyseSum {
  sessions = 0
  failed = 0
  #done = 0
  #withMoves = 0
  #left = 0
  #numbers = 0
  #moved = 0
  #largest: { readonly number: MovedNumber; readonly sessionId: string } | null = null

  /** One line about the session. */
  add(outcome: Reanalysed): string {
    this.sessions++
    const { session } = outcome
    if (outcome.kind === 'left') {
      this.#left++
      return `${nameOf(session)}: left alone, ${outcome.why}`
    }
    if (outcome.kind === 'failed') {
      this.failed++
      return `${nameOf(session)} could not be measured and keeps what it has: ${outcome.why}`
    }
    const { moved, count } = outcome
    this.#done++
    this.#numbers += count
    this.#moved += moved.length
    const was = `analysis ${session.analysisVersion ?? 'unknown'}`
    if (moved.length === 0) return `${nameOf(session)}, ${was} before: none of ${count} numbers moved`
    this.#withMoves++
    const largest = moved.reduce((most, number) => (weight(number) > weight(most) ? number : most))
    if (!this.#largest || weight(largest) > weight(this.#largest.number)) {
      this.#largest = { number: largest, sessionId: session.id }
    }
    return `${nameOf(session)}, ${was} before: ${moved.length} of ${count} numbers moved, most ${moveWords(largest)}`
  }

  words(version: string): string {
    const most = this.#largest
      ? `; the most: ${moveWords(this.#largest.number)} of session ${this.#largest.sessionId}`
      : ''
    return (
      `${this.#done} of ${this.sessions} sessions measured by analysis ${version}: ${this.#moved} of ${this.#numbers} ` +
      `numbers moved, in ${this.#withMoves} sessions${most}\n` +
      `${this.#left} left alone, ${this.failed} could not be measured\n`
    )
  }
}

function nameOf({ id, dogName, startedAt }: SessionSummary): string {
  return `session ${id} of ${dogName}, ${startedAt ?? 'start unknown'}`
}

/** A number that came or went says less than one that is another. */
function weight({ before, after, share }: MovedNumber): number {
  return before === null || after === null ? -1 : share
}

function moveWords({ path, before, after, share }: MovedNumber): string {
  const [was, is] = [before, after].map((value) =>
    value === null ? 'nothing' : String(Number(value.toPrecision(6))),
  )
  const percent = before === null || after === null ? '' : ` (${(share * 100).toPrecision(2)} %)`
  return `${path} ${was} → ${is}${percent}`
}
