/** What a handler most often has to say during a hold. Common practice, no source. */
export const QUICK_NOTES: readonly string[] = [
  'paw off',
  'shuffling',
  'sagging back',
  'looking away',
  'refused treat',
]
/** Longest note of one's own, characters. */
export const LONGEST_NOTE = 120
