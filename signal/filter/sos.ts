/**
 * A filter as second-order sections: rows [b0, b1, b2, 1, a1, a2], applied from the first to the last,
 * each with the transfer function (b0 + b1·z⁻¹ + b2·z⁻²) / (1 + a1·z⁻¹ + a2·z⁻²). The same layout as
 * SciPy's `output='sos'`.
 */
export type Sos = readonly Float64Array[]

/**
 * Steady state of every section for a constant input of 1, shape (2 · sections): scale it by the
 * constant to start a filter without a transient. Direct form II transposed; SciPy's `sosfilt_zi`.
 */
export function steadyState(sos: Sos): Float64Array {
  const state = new Float64Array(2 * sos.length)
  let input = 1
  sos.forEach(([b0, b1, b2, , a1, a2], section) => {
    const output = ((b0 + b1 + b2) / (1 + a1 + a2)) * input
    state[2 * section] = output - b0 * input
    state[2 * section + 1] = b2 * input - a2 * output
    input = output
  })
  return state
}
