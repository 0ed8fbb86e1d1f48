import type { SourceChoice } from './source'

const found = import.meta.glob<{ choice: SourceChoice }>('./*/choice.ts', { eager: true })

/** Every source there is, in the order to offer them. */
export const SOURCES: readonly SourceChoice[] = Object.values(found)
  .map(({ choice }) => choice)
  .sort((a, b) => a.order - b.order)
