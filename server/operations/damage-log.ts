import type { CorruptBlockError } from '../store/time-series.ts'

/** Damaged blocks are met each time somebody reads them, and told once since the start. */
export class DamageLog {
  readonly #known = new Set<string>()
  readonly #tell: (damage: CorruptBlockError) => void

  constructor(tell: (damage: CorruptBlockError) => void) {
    this.#tell = tell
  }

  found(damage: CorruptBlockError): void {
    const key = `${damage.stream} ${damage.range.firstIndex}`
    if (this.#known.has(key)) return
    this.#known.add(key)
    this.#tell(damage)
  }
}
