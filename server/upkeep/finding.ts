/** Something in stored data that is not as it must be; the text names the place. */
export interface Finding {
  readonly kind:
    'manifest' | 'file' | 'database' | 'version' | 'reference' | 'block' | 'stream' | 'json' | 'report'
  readonly text: string
  /** Where it is about samples. */
  readonly samples?: DamagedSamples
}

/** Samples that cannot be read, or are not where they should be. */
export interface DamagedSamples {
  readonly streamId: string
  readonly sessionId: string
  readonly dogId: string | null
  readonly dogName: string | null
  readonly firstIndex: number
  /** Past the last one. */
  readonly endIndex: number
  /** UTC, where the stream knows when it began. */
  readonly from: string | null
  readonly to: string | null
}

/** What a check gives: everything wrong, and what is worth knowing without being wrong. */
export interface Checked {
  readonly findings: readonly Finding[]
  readonly notes: readonly string[]
}
