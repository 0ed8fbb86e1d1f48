import type { Author } from './store/changes.ts'

/** Who changes things as long as there are no accounts. */
export const THIS_COMPUTER: Author = 'this computer'
