import { Preference } from '../preferences.svelte'

/** A sheet to print on, as CSS names it. */
export type Paper = 'A4' | 'Letter'

/** Sheets, the usual one first. */
export const PAPERS = ['A4', 'Letter'] as const satisfies readonly Paper[]

/** What each sheet is called, with its size. */
export const PAPER_WORDS: Readonly<Record<Paper, string>> = {
  A4: 'A4 (210 × 297 mm)',
  Letter: 'US Letter (8.5 × 11 in)',
}

/** The sheet this browser's person prints on. */
export const paper = new Preference<Paper>('swaybook.paper', PAPERS, 'A4')
