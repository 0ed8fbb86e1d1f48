/** Seconds as `m:ss.s`, the way a mark's time is typed. */
export function markTimeText(atS: number): string {
  const tenths = Math.max(0, Math.round(atS * 10))
  const minutes = Math.floor(tenths / 600)
  const seconds = ((tenths % 600) / 10).toFixed(1).padStart(4, '0')
  return `${minutes}:${seconds}`
}

/** Seconds of `m:ss.s` or of seconds alone; null for anything else, or beyond the recording. */
export function markTimeOf(text: string, durationS: number): number | null {
  const parts = /^(?:(\d{1,4}):(?=[0-5]?\d(?:\D|$)))?(\d{1,5}(?:[.,]\d+)?)$/.exec(text.trim())
  if (!parts) return null
  const atS = Number(parts[1] ?? 0) * 60 + Number(parts[2].replace(',', '.'))
  return atS <= durationS ? atS : null
}
