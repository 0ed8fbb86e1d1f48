import { readFileSync } from 'node:fs'
import { SAMPLES, sampleText } from '../cli/samples.ts'

/** A piece of a real recording, small enough to be read and measured thousands of times. */
export interface Source {
  readonly name: string
  readonly text: string
  readonly separator: string
}

const PDKIT = ['rest_right_2458.csv', 'kinetic_left_pdkit_test.csv']
const PDKIT_FOLDER = new URL('../reference/data/pdkit_tremor/', import.meta.url)

/** Rows of each piece: some 3 to 20 s, with and without room for a quiet stand of 5 s. */
const ROWS = [500, 220]

/** The beginnings of every sample trace and of open recordings of people (pdkit), header and comments with them. */
export const SOURCES: readonly Source[] = [
  ...SAMPLES.map((name) => ({ name, text: sampleText(name) })),
  ...PDKIT.map((name) => ({ name, text: readFileSync(new URL(name, PDKIT_FOLDER), 'utf8') })),
].flatMap(({ name, text }) =>
  ROWS.map((rows) => ({
    name: `${name}, ${rows} rows`,
    text: name.endsWith('.json') ? shortJson(text, rows) : `${text.split('\n').slice(0, rows).join('\n')}\n`,
    separator: name.endsWith('.tsv') ? '\t' : name.startsWith('sit') ? ';' : ',',
  })),
)

/** A JSON recording with every list of numbers cut to its first `samples`. */
function shortJson(text: string, samples: number): string {
  const cut = (value: unknown): unknown => {
    if (Array.isArray(value)) return typeof value[0] === 'number' ? value.slice(0, samples) : value.map(cut)
    if (typeof value !== 'object' || value === null) return value
    return Object.fromEntries(Object.entries(value).map(([key, inner]) => [key, cut(inner)]))
  }
  return JSON.stringify(cut(JSON.parse(text)), null, 1)
}
