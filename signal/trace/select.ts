/**
 * The k-th smallest value (from 0), O(n): Hoare's quickselect with the middle of three as pivot.
 * `values` is put in another order.
 *
 * @param from first index looked at; what lies before it must not be larger than what follows
 * @throws {RangeError} unless 0 <= from <= k < values.length
 * @see Hoare 1961, Commun. ACM 4:321 (FIND)
 */
export function selectInPlace(values: Float64Array, k: number, from = 0): number {
  if (!(from >= 0 && from <= k && k < values.length)) {
    throw new RangeError(`selectInPlace requires ${from} <= k < ${values.length}, got ${k}`)
  }
  let low = from
  let high = values.length - 1
  while (low < high) {
    const pivot = middleOfThree(values[low], values[(low + high) >> 1], values[high])
    let i = low
    let j = high
    while (i <= j) {
      while (values[i] < pivot) i++
      while (values[j] > pivot) j--
      if (i > j) break
      const swapped = values[i]
      values[i] = values[j]
      values[j] = swapped
      i++
      j--
    }
    // Now all up to j are at most the pivot, all from i on at least it; between them lies the pivot.
    if (k <= j) high = j
    else if (k >= i) low = i
    else break
  }
  return values[k]
}

function middleOfThree(a: number, b: number, c: number): number {
  if (a < b) return b < c ? b : a < c ? c : a
  return a < c ? a : b < c ? c : b
}
