import type { ArchiveErrorCode } from './archive-error.ts'
import type { Staged } from './stage.ts'
import type { ArchiveLimits } from './zip-entries.ts'

export interface ImportOrder {
  readonly zipPath: string
  readonly stagingDir: string
  readonly limits: ArchiveLimits
}

export type FromImportThread =
  | { readonly kind: 'found'; readonly dogId: string }
  | { readonly kind: 'staged'; readonly staged: Staged }
  | {
      readonly kind: 'failed'
      readonly failure: {
        /** Null when it is our fault. */
        readonly refused: {
          readonly code: ArchiveErrorCode
          readonly file?: string
          readonly line?: number
          readonly remedy?: string
        } | null
        readonly message: string
        readonly stack?: string
      }
    }
