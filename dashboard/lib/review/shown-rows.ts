/** A table of up to this many rows is shown whole. */
const WHOLE_ROWS = 14
/** Of a longer one, this many until somebody asks for the rest. */
const FIRST_ROWS = 10

/**
 * Which rows of a table are shown, by their places.
 * @param chosen a row that is always among them; −1 for none
 */
export function shownRows(count: number, all: boolean, chosen = -1): number[] {
  const every = Array.from({ length: count }, (_, k) => k)
  if (all || count <= WHOLE_ROWS) return every
  return every.filter((k) => k < FIRST_ROWS || k === chosen)
}
