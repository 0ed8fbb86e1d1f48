/**
 * Of all orders of n values, how many have i inversions (pairs in falling order): the entry [i].
 * Values tied with one another are given by the sizes of their groups; orders that differ only inside a
 * group count once. Kendall's S of such an order is (pairs that differ) − 2·i.
 *
 * Groups are laid in one after the other: m values already there and t new equal ones give as many orders
 * with i inversions as there are partitions of i into at most t parts of at most m (a Gaussian binomial).
 * Cost: O(n⁴) at worst; exact while the counts stay below 2⁵³, for n <= 18.
 *
 * @param groupSizes sizes of the groups of equal values, 1 for a value without a tie; sum n
 * @throws {RangeError} if a size is no whole number > 0, or n is 0 or above 18
 * @see Kendall 1938, Biometrika 30:81–93, for the case without ties; MacMahon 1915, Combinatory Analysis,
 * for the generating function (both from memory)
 */
export function inversionCounts(groupSizes: readonly number[]): number[] {
  if (!groupSizes.every((size) => Number.isInteger(size) && size > 0)) {
    throw new RangeError(`inversionCounts requires whole sizes > 0, got ${groupSizes.join(', ')}`)
  }
  const n = groupSizes.reduce((sum, size) => sum + size, 0)
  if (n < 1 || n > 18) throw new RangeError(`inversionCounts requires 1 to 18 values, got ${n}`)
  let counts = [1]
  let placed = 0
  for (const size of groupSizes) {
    counts = product(counts, boxedPartitions(size, placed))
    placed += size
  }
  return counts
}

/** Number of partitions of i = 0..parts·largest into at most `parts` parts of at most `largest`. */
function boxedPartitions(parts: number, largest: number): number[] {
  // Rows of Pascal's rule for Gaussian binomials: P(p, l) = P(p, l − 1) + q^l · P(p − 1, l).
  let row: number[][] = Array.from({ length: largest + 1 }, () => [1])
  for (let p = 1; p <= parts; p++) {
    const next: number[][] = [[1]]
    for (let l = 1; l <= largest; l++) next.push(sum(next[l - 1], row[l], l))
    row = next
  }
  return row[largest]
}

/** a + b shifted up by `shift`. */
function sum(a: readonly number[], b: readonly number[], shift: number): number[] {
  const total = new Array<number>(Math.max(a.length, b.length + shift)).fill(0)
  a.forEach((value, i) => (total[i] += value))
  b.forEach((value, i) => (total[i + shift] += value))
  return total
}

function product(a: readonly number[], b: readonly number[]): number[] {
  const total = new Array<number>(a.length + b.length - 1).fill(0)
  a.forEach((left, i) => b.forEach((right, j) => (total[i + j] += left * right)))
  return total
}
