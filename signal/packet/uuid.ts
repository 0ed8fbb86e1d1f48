/** A UUID as a layout may write it: 128 bits with hyphens, or the 16 bits of an assigned number, `0x` allowed. */
export const UUID_PATTERN =
  '^(?:(?:0x)?[0-9a-fA-F]{4}|[0-9a-fA-F]{8}-[0-9a-fA-F]{4}-[0-9a-fA-F]{4}-[0-9a-fA-F]{4}-[0-9a-fA-F]{12})$'

/** Bluetooth Core Specification, Vol 3 Part B, 2.5.1: an assigned 16-bit number is added to this at bit 96. */
const BASE_UUID_TAIL = '-0000-1000-8000-00805f9b34fb'

/**
 * The 128-bit UUID in lower case, as Web Bluetooth wants it.
 *
 * @param text matches `UUID_PATTERN`
 */
export function fullUuid(text: string): string {
  const digits = text.toLowerCase().replace(/^0x/, '')
  return digits.length === 4 ? `0000${digits}${BASE_UUID_TAIL}` : digits
}
