/** Ways a recording gets damaged on its way: each takes a text and a number in [0, 1) per choice it makes. */

export type Choose = () => number
export type Damage = (text: string, separator: string, choose: Choose) => string

const ODD_CELLS = [
  '',
  ' ',
  'NaN',
  '-inf',
  '1e999',
  '1e308',
  '-1e200',
  '1e-320',
  '0x10',
  '1,5',
  '1.2.3',
  '--1',
  '"',
  '"1',
  'on',
  'off',
  'true',
  '1e5',
  '-0',
  '1 000',
  '9999999999999999',
  '2026-03-14T17:20:00Z',
  '2026-13-14',
  '1e-9',
  '-1',
  'support-on',
  'quiet-stand-start',
  '\ufeff',
  '#',
  '1;2',
  '1\t2',
  '\r',
  '\u0000',
]

const pick = <T>(list: readonly T[], choose: Choose): T => list[below(list.length, choose)]
const below = (n: number, choose: Choose): number => Math.floor(choose() * n)

type Row = string[]

/** Changes the cells of every data row; header and comments stay. */
function overRows(text: string, separator: string, change: (cells: Row, row: number) => Row | null): string {
  let row = 0
  return text
    .split('\n')
    .flatMap((line) => {
      if (!/^[-\d]/.test(line)) return [line]
      const cells = change(line.split(separator), row++)
      return cells === null ? [] : [cells.join(separator)]
    })
    .join('\n')
}

function withNumber(cells: Row, column: number, change: (value: number) => number): Row {
  const value = Number(cells[column])
  if (cells[column] === undefined || cells[column] === '' || !Number.isFinite(value)) return cells
  return cells.map((cell, i) => (i === column ? String(change(value)) : cell))
}

function changeTime(change: (t: number, row: number) => number): Damage {
  return (text, separator) =>
    overRows(text, separator, (cells, row) => withNumber(cells, 0, (t) => change(t, row)))
}

function changeLines(change: (lines: string[], choose: Choose) => string[]): Damage {
  return (text, _, choose) => change(text.split('\n'), choose).join('\n')
}

/** Every damage by name, so that a failing case says what was done. */
export const DAMAGES: Readonly<Record<string, Damage>> = {
  'a character changed': (text, _, choose) => {
    const at = below(text.length, choose)
    const code = pick([below(128, choose), below(256, choose), below(65_536, choose)], choose)
    return text.slice(0, at) + String.fromCharCode(code) + text.slice(at + 1)
  },
  'a piece lost': (text, _, choose) => {
    const at = below(text.length, choose)
    return text.slice(0, at) + text.slice(at + 1 + below(200, choose))
  },
  'something put in': (text, _, choose) => {
    const at = below(text.length, choose)
    return text.slice(0, at) + pick(ODD_CELLS, choose) + text.slice(at)
  },
  'the end cut off': (text, _, choose) => text.slice(0, below(text.length, choose)),
  'the beginning cut off': (text, _, choose) => text.slice(below(text.length, choose)),
  'an odd cell': (text, separator, choose) => {
    const wanted = below(1400, choose)
    return overRows(text, separator, (cells, row) => {
      if (row === wanted) cells[below(cells.length, choose)] = pick(ODD_CELLS, choose)
      return cells
    })
  },
  'two columns of data swapped': (text, separator, choose) => {
    const a = below(5, choose)
    const b = below(5, choose)
    return overRows(text, separator, (cells) => {
      if (cells.length > Math.max(a, b)) [cells[a], cells[b]] = [cells[b], cells[a]]
      return cells
    })
  },
  'a column emptied here and there': (text, separator, choose) => {
    const column = below(5, choose)
    const share = choose()
    return overRows(text, separator, (cells) =>
      cells.map((c, i) => (i === column && choose() < share ? '' : c)),
    )
  },
  'a column stuck': (text, separator, choose) => {
    const column = 1 + below(3, choose)
    const value = pick(['0', '1', '9.8', '-1000'], choose)
    return overRows(text, separator, (cells) => cells.map((c, i) => (i === column ? value : c)))
  },
  'all axes zero': (text, separator) =>
    overRows(text, separator, (cells) => cells.map((c, i) => (i >= 1 && i <= 3 ? '0' : c))),
  'no header': changeLines((lines) => lines.filter((line) => /^[-\d]/.test(line))),
  'other units in the header': (text, _, choose) =>
    text.replace(/mps2|m\/s\^?²?2?|mg|\[s\]|_ms|_s\b|deg\/s/g, () =>
      pick(['g', 'mg', 'mps2', 'm/s2', 'ms', 's', 'us', 'ns', 'dps', 'foo', ''], choose),
    ),
  'axes scaled': (text, separator, choose) => {
    const factor = pick(
      [1000, 1e-3, 9.80665, 1 / 9.80665, 2, 3, 0.5, -1, 16_384, 1e6, 1e200, 0.4, 1.3],
      choose,
    )
    return overRows(text, separator, (cells) =>
      [1, 2, 3].reduce((row, column) => withNumber(row, column, (value) => value * factor), cells),
    )
  },
  'one axis scaled': (text, separator, choose) => {
    const column = 1 + below(3, choose)
    const factor = pick([1000, 1e-3, -1, 0, 100], choose)
    return overRows(text, separator, (cells) => withNumber(cells, column, (value) => value * factor))
  },
  'times scaled': (text, separator, choose) => {
    const factor = pick([1000, 1e-3, 1e6, 2, 0.5, -1, 0, 10, 0.1], choose)
    return changeTime((t) => t * factor)(text, separator, choose)
  },
  'times moved': (text, separator, choose) => {
    const by = pick([1e9, -1e9, 1e12, -5, 1e15, 1e18, 1.77e9, 1e300], choose)
    return changeTime((t) => t + by)(text, separator, choose)
  },
  'a clock that jumps': (text, separator, choose) => {
    const by = pick([0.03, 0.5, 5, 100, 1e6, 1.77e12, 1e300, -0.005, -0.5, -50], choose)
    const from = below(1000, choose)
    return changeTime((t, row) => (row < from ? t : t + by))(text, separator, choose)
  },
  'times rounded': (text, separator, choose) => {
    const step = pick([1, 0.1, 0.01], choose)
    return changeTime((t) => Math.round(t / step) * step)(text, separator, choose)
  },
  'rows twice': changeLines((lines, choose) => {
    const from = below(lines.length, choose)
    lines.splice(below(lines.length, choose), 0, ...lines.slice(from, from + 1 + below(20, choose)))
    return lines
  }),
  'rows lost here and there': (text, separator, choose) => {
    const share = choose()
    return overRows(text, separator, (cells) => (choose() < share ? null : cells))
  },
  'rows lost together': changeLines((lines, choose) => {
    lines.splice(4 + below(lines.length, choose), below(600, choose))
    return lines
  }),
  'rows in another order': changeLines((lines, choose) => {
    const from = 4 + below(lines.length, choose)
    const some = lines.splice(from, 2 + below(30, choose))
    const keyed = some.map((line) => [choose(), line] as const).sort((a, b) => a[0] - b[0])
    return [...lines.slice(0, from), ...keyed.map(([, line]) => line), ...lines.slice(from)]
  }),
  'rows backwards': changeLines((lines) => [...lines.slice(0, 3), ...lines.slice(3).reverse()]),
  'the file twice': (text) => text + text,
  'a few rows only': changeLines((lines, choose) => lines.slice(0, 2 + below(300, choose))),
  'other line ends': (text, _, choose) => text.replace(/\n/g, pick(['\r\n', '\r', '\n\n', '\n\r'], choose)),
  'another separator': (text, separator, choose) =>
    text.split(separator).join(pick([';', '\t', ' ', '|', ',,'], choose)),
  'decimal commas': (text) => text.replace(/\./g, ','),
  'odd values in JSON': (text, _, choose) =>
    text.replace(/-?\d+\.\d+/g, (value) =>
      choose() < 0.001 ? pick(['null', '"x"', '[]', '{}', '1e400', '-1e200', 'true', ''], choose) : value,
    ),
  'marks anywhere': (text, _, choose) =>
    text.replace(
      /"atS": ?[\d.]+/g,
      () => `"atS":${pick(['-1e300', '1e300', '-5', '0', '1e9', '55'], choose)}`,
    ),
}
