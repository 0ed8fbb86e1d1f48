/** One measure in plain words; `id` is its anchor on the page. */
export interface Explained {
  readonly id: string
  readonly title: string
  /** One sentence. */
  readonly what: string
  readonly moves: string
  readonly cannot: string
  /** How much is more than noise, in words. */
  readonly noise: string
}

export interface ExplainedGroup {
  readonly id: string
  readonly title: string
  readonly measures: readonly Explained[]
}
