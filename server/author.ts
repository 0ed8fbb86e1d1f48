import type { Author } from './store/changes.ts'

/** What changes are told as while nobody has to sign in. */
export const THIS_COMPUTER: Author = { name: 'this computer', personId: null }

/** Who redeems a pairing: its secret is all that is known of it. */
export const PAIRED_DEVICE: Author = { name: 'paired device', personId: null }

/** Who is not signed in, in the trail of the installation. */
export const NOBODY: Author = { name: 'nobody', personId: null }

/** What the settings of the server ask for at its start. */
export const SERVER_SETTINGS: Author = { name: 'settings of the server', personId: null }

/** Whoever runs `swaybook` beside the server, under its account. */
export const COMMAND_LINE: Author = { name: 'command line', personId: null }
