import { describe, expect, test } from 'vitest'
import { parseTrace } from '../../../signal/trace/parse.ts'
import { codeOf, errorOf } from './trace-errors.ts'
import { csv, stillRow } from './made-csv.ts'

const plain = csv('t,ax,ay,az', stillRow)
const expected = parseTrace(plain).trace

describe('forms of the same table', () => {
  const forms: [string, string][] = [
    ['a byte-order mark', `\ufeff${plain}`],
    ['CRLF line ends', plain.replace(/\n/g, '\r\n')],
    ['CR line ends', plain.replace(/\n/g, '\r')],
    ['tabs', plain.replace(/,/g, '\t')],
    ['semicolons', plain.replace(/,/g, ';')],
    ['semicolons and decimal commas', plain.replace(/,/g, ';').replace(/\./g, ',')],
    ['tabs and decimal commas', plain.replace(/,/g, '\t').replace(/\./g, ',')],
    ['a delimiter declaration', `sep=;\n${plain.replace(/,/g, ';')}`],
    ['quoted cells', plain.replace(/[^,\n]+/g, '"$&"')],
    ['quoted cells and CRLF', plain.replace(/[^,\n]+/g, '"$&"').replace(/\n/g, '\r\n')],
    ['blanks around cells', plain.replace(/,/g, ' , ')],
    ['comments and blank lines', `# made by hand\n\n${plain.replace(/\n/g, '\n\n# x, "y\n')}`],
    ['no last line end', plain.trimEnd()],
    ['a delimiter at the end of each row', plain.replace(/\n/g, ',\n').replace(',\n', '\n')],
  ]
  test.each(forms)('%s changes nothing', (_, text) => {
    expect(parseTrace(text).trace).toEqual(expected)
  })
})

describe('errors carry their place', () => {
  const broken = (line: number, row: string) => {
    const lines = plain.split('\n')
    lines[line - 1] = row
    return lines.join('\n')
  }
  test('a text instead of a number names line, column, value and remedy', () => {
    const error = errorOf(() => parseTrace(broken(114, '1.12,0.1,0.2,n/a')))
    expect(error.message).toMatch(
      /^line 114, column "az": "n\/a" is not a number\. Remove the row or fill the cell/,
    )
    expect([error.code, error.line, error.column, error.value]).toEqual(['BAD_NUMBER', 114, 'az', 'n/a'])
  })
  test('the line is that of the file, past comments, blank lines and line ends inside quotes', () => {
    const text = `# one\n\nt,ax,ay,az,mark\n0,0,0,9.8,"two\nlines"\n0.01,0,x,9.8,\n0.02,0,0,9.8,\n`
    expect(errorOf(() => parseTrace(text)).line).toBe(6)
  })
  test.each(['NaN', 'inf', '-Infinity', '1e999'])('%s is not finite', (cell) => {
    expect(codeOf(() => parseTrace(broken(50, `0.48,0.1,${cell},9.8`)))).toBe('NON_FINITE')
  })
  test.each(['0x10', '1_0', '--1', '1e', '.', '+', '１'])('%s is not a number', (cell) => {
    expect(codeOf(() => parseTrace(broken(50, `0.48,0.1,${cell},9.8`)))).toBe('BAD_NUMBER')
  })
  test('a short or long row is refused with its line', () => {
    expect(errorOf(() => parseTrace(broken(50, '0.48,0.1,0.2')))).toMatchObject({
      code: 'RAGGED_ROW',
      line: 50,
    })
    expect(errorOf(() => parseTrace(broken(50, '0.48,0.1,0.2,9.8,7')))).toMatchObject({
      code: 'RAGGED_ROW',
      line: 50,
    })
  })
  test('an empty axis among full ones is refused', () => {
    expect(errorOf(() => parseTrace(broken(50, '0.48,0.1,,9.8')))).toMatchObject({
      code: 'BAD_NUMBER',
      line: 50,
      column: 'ay',
    })
  })
  test('a quote that never closes is refused where it opens', () => {
    expect(errorOf(() => parseTrace(broken(50, '0.48,"0.1,0.2,9.8')))).toMatchObject({
      code: 'BAD_QUOTE',
      line: 50,
    })
  })
  test('decimal comma and decimal point in one file are refused', () => {
    const text = plain.replace(/,/g, ';').replace('0.50;0.1', '0.50;0,1')
    expect(errorOf(() => parseTrace(text)).message).toContain('both the comma and the point')
  })
  test.each([
    ['', 'EMPTY'],
    [' \n\n', 'EMPTY'],
    ['# only a remark\n', 'EMPTY'],
    ['t,ax,ay,az\n', 'TOO_SHORT'],
    ['PK\u0003\u0004\0\0', 'NOT_TEXT'],
    ['hello world', 'NO_COLUMNS'],
    ['t,ax,ay\n0,1,2\n', 'NO_COLUMNS'],
    ['ax,ay,az\n0,1,2\n', 'NO_TIME'],
    ['{"t": [', 'BAD_JSON'],
    ['[]', 'EMPTY'],
    ['[1, 2]', 'BAD_VALUE'],
  ])('%j ends in %s', (text, code) => expect(codeOf(() => parseTrace(text))).toBe(code))
  test('fewer than ten samples and less than a second are too short', () => {
    expect(codeOf(() => parseTrace(csv('t,ax,ay,az', (i) => `${i / 5},0,0,1`, 9)))).toBe('TOO_SHORT')
    expect(codeOf(() => parseTrace(csv('t,ax,ay,az', stillRow, 100)))).toBe('TOO_SHORT')
    expect(parseTrace(csv('t,ax,ay,az', stillRow, 101)).trace.t.length).toBe(101)
  })
  test('a broken JSON names its line', () => {
    expect(errorOf(() => parseTrace('{\n"t": [0, 1],\n"acc": oops }')).line).toBe(3)
  })
})

describe('samples that are not used are counted', () => {
  test('a last row cut off in the middle is left out', () => {
    for (const tail of ['2.00,0.1', '2.00,0.1,-0.2,-', '2.00,0.1,-0.2,', '2.00,"0.1']) {
      const found = parseTrace(plain + tail)
      expect(found.trace.t.length).toBe(200)
      expect(found.unusedSamples).toBe(1)
      expect(found.notes.join()).toContain('cut off')
    }
  })
  test('rows without acceleration are missed samples and leave a hole in time', () => {
    const text = csv('t,ax,ay,az', (i) => (i >= 50 && i < 60 ? `${i / 100},,,` : stillRow(i)))
    const found = parseTrace(text)
    expect([found.trace.t.length, found.unusedSamples]).toEqual([190, 10])
    expect(found.trace.t[50]).toBe(0.6)
  })
  test('without a time column missed samples leave the same hole', () => {
    const found = parseTrace(
      csv('ax,ay,az', (i) => (i >= 50 && i < 60 ? ',,' : '0,0,1')),
      { rateHz: 100 },
    )
    expect(found.trace.t[50]).toBe(0.6)
    expect(found.unusedSamples).toBe(10)
  })
})
