/** A CSV text: the header and `count` rows. */
export function csv(header: string | null, rowAt: (i: number) => string, count = 200): string {
  const rows = Array.from({ length: count }, (_, i) => rowAt(i))
  return `${(header === null ? rows : [header, ...rows]).join('\n')}\n`
}

/** Rows of a sensor lying still at 100 Hz, in m/s², with time in s. */
export function stillRow(i: number): string {
  return `${(i / 100).toFixed(2)},0.1,-0.2,9.8`
}
