import type { Author } from './store/changes.ts'

/** Who changes things as long as there are no accounts. */
export const THIS_COMPUTER: Author = 'this computer'

/** Who redeems a pairing: its secret is all that is known of it. */
export const PAIRED_DEVICE: Author = 'paired device'
