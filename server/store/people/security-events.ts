import type { SecurityEventPage } from '#protocol/people'
import type { Author } from '../changes.ts'

export interface SecurityLine {
  /** `<thing>.<what happened>`. */
  readonly action: string
  readonly dogId?: string
  /** Never a secret, never a word of a dog: this stays when the dog goes. */
  readonly detail?: object
}

/** The trail of the installation: who came in, who was kept out, and who was let do what. */
export interface SecurityEvents {
  /** For what changes nothing in the store; all else is told by the change itself. */
  tell(line: SecurityLine, by: Author): Promise<void>
  /** Newest first; `cursor` is `next` of the page before. */
  page(query: { readonly limit: number; readonly cursor?: string }): Promise<SecurityEventPage>
}
