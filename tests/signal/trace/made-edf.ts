/** An EDF file put together field by field, each as the test says, so that any field can be wrong. */
export interface MadeEdf {
  version?: string
  recording?: string
  date?: string
  time?: string
  headerBytes?: string
  reserved?: string
  records?: string
  duration?: string
  count?: string
  signals: MadeSignal[]
  /** Bytes after the header; default: made from the signals' values and lists. */
  data?: Uint8Array
}

export interface MadeSignal {
  label: string
  dimension?: string
  physical?: [string, string]
  digital?: [string, string]
  perRecord?: string
  /** Digital values per record. */
  values?: number[][]
  /** Text of an annotation signal per record. */
  lists?: string[]
}

const ANNOTATION_BYTES = 128

export function madeEdf(edf: MadeEdf): Uint8Array {
  const { signals } = edf
  const each = (length: number, of: (signal: MadeSignal) => string): string =>
    signals.map((signal) => of(signal).padEnd(length)).join('')
  const records = Math.max(...signals.map(({ values, lists }) => (values ?? lists ?? []).length))
  const header = [
    (edf.version ?? '0').padEnd(8),
    'X X X X'.padEnd(80),
    (edf.recording ?? 'Startdate 02-MAR-2026 X X X').padEnd(80),
    (edf.date ?? '02.03.26').padEnd(8),
    (edf.time ?? '10.20.30').padEnd(8),
    (edf.headerBytes ?? String(256 * (signals.length + 1))).padEnd(8),
    (edf.reserved ?? '').padEnd(44),
    (edf.records ?? String(records)).padEnd(8),
    (edf.duration ?? '1').padEnd(8),
    (edf.count ?? String(signals.length)).padEnd(4),
    each(16, ({ label }) => label),
    each(80, () => ''),
    each(8, ({ dimension }) => dimension ?? ''),
    each(8, ({ physical }) => physical?.[0] ?? '-32768'),
    each(8, ({ physical }) => physical?.[1] ?? '32767'),
    each(8, ({ digital }) => digital?.[0] ?? '-32768'),
    each(8, ({ digital }) => digital?.[1] ?? '32767'),
    each(80, () => ''),
    each(8, ({ perRecord, values }) => perRecord ?? String(values?.[0]?.length ?? ANNOTATION_BYTES / 2)),
    each(32, () => ''),
  ].join('')
  const data = edf.data ?? dataOf(signals, records)
  const bytes = new Uint8Array(header.length + data.length)
  for (let i = 0; i < header.length; i++) bytes[i] = header.charCodeAt(i)
  bytes.set(data, header.length)
  return bytes
}

function dataOf(signals: readonly MadeSignal[], records: number): Uint8Array {
  const bytes: number[] = []
  for (let k = 0; k < records; k++) {
    for (const { values, lists } of signals) {
      for (const value of values?.[k] ?? []) bytes.push(value & 0xff, (value >> 8) & 0xff)
      if (lists === undefined) continue
      const list = new TextEncoder().encode(lists[k])
      bytes.push(...list, ...new Array<number>(ANNOTATION_BYTES - list.length).fill(0))
    }
  }
  return Uint8Array.from(bytes)
}

/** Three axes of 10 samples a record over `records` records; z holds 1 g in mg, x counts the samples. */
export function axesInMg(records: number): MadeSignal[] {
  const rows = (of: (k: number, j: number) => number) =>
    Array.from({ length: records }, (_, k) => Array.from({ length: 10 }, (_, j) => of(k, j)))
  const dimension = 'mg'
  return [
    { label: 'Acc X', dimension, values: rows((k, j) => 10 * k + j) },
    { label: 'ACC-y', dimension, values: rows(() => -20) },
    { label: 'acc_z', dimension, values: rows(() => 1000) },
  ]
}
