/** ISO 8601 time as the value of a `datetime-local` input: this device's time zone, whole minutes. */
export function localInputOf(iso: string): string {
  const at = new Date(iso)
  const two = (value: number) => String(value).padStart(2, '0')
  const day = `${String(at.getFullYear()).padStart(4, '0')}-${two(at.getMonth() + 1)}-${two(at.getDate())}`
  return `${day}T${two(at.getHours())}:${two(at.getMinutes())}`
}

/** ISO 8601 in UTC of a `datetime-local` value in this device's time zone; null for an empty one. */
export function isoOfLocalInput(value: string): string | null {
  const at = new Date(value)
  return value === '' || Number.isNaN(at.getTime()) ? null : at.toISOString()
}

/** Hour and minute of an ISO 8601 time, in this device's time zone and language. */
export function clockTime(iso: string): string {
  return new Intl.DateTimeFormat(undefined, { hour: '2-digit', minute: '2-digit' }).format(new Date(iso))
}
