/**
 * The canonical text of a JSON value (RFC 8785, JSON Canonicalization Scheme): no spaces, object names
 * sorted by UTF-16 code units, numbers and strings as ECMAScript writes them. Equal layouts have equal text,
 * whatever the order of their fields; its SHA-256 names them.
 *
 * @param value JSON data; properties that are undefined count as absent
 * @throws {TypeError} for what JSON cannot hold: numbers that are not finite, functions
 */
export function canonicalJson(value: unknown): string {
  if (Array.isArray(value)) return `[${value.map(canonicalJson).join(',')}]`
  if (typeof value === 'object' && value !== null) {
    const entries = Object.entries(value)
      .filter(([, property]) => property !== undefined)
      .sort(([a], [b]) => (a < b ? -1 : 1))
      .map(([name, property]) => `${JSON.stringify(name)}:${canonicalJson(property)}`)
    return `{${entries.join(',')}}`
  }
  const text =
    Number.isNaN(value) || Math.abs(value as number) === Infinity ? undefined : JSON.stringify(value)
  if (text === undefined) throw new TypeError(`canonicalJson requires JSON data, got ${String(value)}`)
  return text
}
