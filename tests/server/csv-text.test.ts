import { parse } from 'csv-parse/sync'
import { expect, it } from 'vitest'
import { csvText } from '#server/csv-text'
import { sessionsCsv } from '#server/export/sessions-csv'
import type { SessionSummary } from '#protocol/resources'

/** OWASP, "CSV Injection": = + - @ tab and carriage return; spaces before them and full-width forms too. */
const FORMULAS = [
  '=1',
  '+1',
  '-1',
  '@sum',
  '\t1',
  '\r1',
  '\n1',
  ' =1',
  '\u00A0@x',
  '＝1',
  '＋1',
  '－1',
  '＠x',
]

it('text that a spreadsheet may run gets an apostrophe, numbers and harmless text stay as they are', () => {
  for (const formula of FORMULAS) {
    expect(parse(csvText([[formula, 'a=1', -2.5, true, null]]))).toEqual([
      [`'${formula}`, 'a=1', '-2.5', 'true', ''],
    ])
  }
})

it('fields with comma, quote or line break are quoted and lines end in CRLF, as RFC 4180 has it', () => {
  expect(csvText([['a'], ['say "x", y'], ['a\nb']])).toBe('a\r\n"say ""x"", y"\r\n"a\nb"\r\n')
})

it('the table of sessions in an archive is as safe as that of trends', () => {
  for (const formula of FORMULAS) {
    const session = { id: 's', fileName: formula, setUp: { exercise: formula, surface: 'a, b' } }
    const [row] = parse(sessionsCsv([{ ...(session as SessionSummary), byPerson: null }]), {
      columns: true,
    }) as Record<string, string>[]
    expect(row).toMatchObject({ file_name: `'${formula}`, exercise: `'${formula}`, surface: 'a, b' })
  }
})
