/** Longest note of one's own, characters. */
export const LONGEST_NOTE = 120
