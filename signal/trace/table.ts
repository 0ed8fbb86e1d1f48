/** One value of a table as it stands in the file. A missing value is the empty string. */
export type Cell = string | number

/** Return false to stop the scan. `endsOpen` is true for a last row without a line end. */
export type RowVisitor = (cells: readonly Cell[], line: number, endsOpen: boolean) => boolean | void

/** What a file says about itself beside its samples. */
export interface Hints {
  startedAt?: string
  rate?: string
  unit?: string
  /** Marks written apart from the samples; not yet checked. */
  marks: { atS: unknown; kind: unknown; note?: unknown; line: number }[]
}

/** Rows and columns, whatever the file form. Rows are streamed: a long file is never held twice. */
export interface Table {
  /** What the line number of a row counts. */
  readonly place: 'line' | 'sample'
  /** Column names, or null when the file has none. */
  readonly header: readonly string[] | null
  /** Cells each row must have. */
  readonly width: number
  /** The first rows, for guessing what a column holds. */
  readonly preview: readonly (readonly Cell[])[]
  /** No more rows than this come. */
  readonly maxRows: number
  /** True when a comma cannot be a delimiter, so that it may be a decimal sign. */
  readonly commaMayBeDecimal: boolean
  /** Visits every data row in file order; fills `hints` on the way. Returns rows cut off at the end. */
  readonly scan: (visit: RowVisitor) => number
  /** Complete only after `scan`. */
  readonly hints: Hints
}

/** Rows kept for guessing. */
export const PREVIEW_ROWS = 64

/** 24 h at 100 Hz, rounded up; a longer text would not fit the memory of a phone's browser. */
export const MAX_SAMPLES = 10_000_000

/** Far more than a logger of everything writes: what is wider is no table of samples. */
export const MAX_COLUMNS = 1000
