/** UTC with a resolution that latencies need, ms. */
export const nowMs = () => performance.timeOrigin + performance.now()
