const letters = new Intl.Segmenter(undefined, { granularity: 'grapheme' })

/** At most `max` letters as a reader counts them, the last one "…" where something is missing. */
export function shortened(text: string, max: number): string {
  // A letter has at least one code unit: shorter texts need no look.
  if (text.length <= max) return text
  const kept: string[] = []
  for (const { segment } of letters.segment(text)) {
    if (kept.length === max) return `${kept.slice(0, -1).join('').trimEnd()}…`
    kept.push(segment)
  }
  return text
}

/** One line of a text of several: breaks and runs of blanks become single blanks. */
export const oneLine = (text: string) => text.replace(/\s+/g, ' ').trim()
