export interface LayoutProblem {
  /** `structure`: what the JSON Schema also says; `meaning`: how the parts go together. */
  readonly kind: 'structure' | 'meaning'
  /** Of the field, as in `channels[2].scale`; empty for the whole layout. */
  readonly path: string
  readonly message: string
  readonly remedy: string
}
