/** A wait as it is told while it runs: "1 min 05 s", "12 s". */
export function waitWords(seconds: number): string {
  const whole = Math.max(0, Math.ceil(seconds))
  const minutes = Math.floor(whole / 60)
  return minutes > 0 ? `${minutes} min ${String(whole % 60).padStart(2, '0')} s` : `${whole} s`
}
