/**
 * Optimistic concurrency: whether a change may go ahead, told the version of the record there is (null: there is
 * nothing yet). Asked within the transaction that makes the change, so that of two changes of one version only
 * one comes through; it must do nothing but answer.
 */
export type Precondition = (version: number | null) => boolean

/** What became of a change to a record that others may change too. */
export type Changed<T> =
  | { readonly kind: 'changed'; readonly record: T }
  /** Refused: this is the version there is, null without any. */
  | { readonly kind: 'other version'; readonly version: number | null }
  /** There is nothing to change, or nothing it could belong to. */
  | { readonly kind: 'missing' }

/**
 * Who changes something, for the audit trail. What the server does of itself has no author, and is not in it.
 */
export interface Author {
  /** As the trail tells it, for good: accounts may go, and archives may come from elsewhere. */
  readonly name: string
  /** Null for one without an account here. */
  readonly personId: string | null
}
