import { RATE_HZ } from '../bench/live/waveform.ts'
import type { RecordingAccount } from './client-messages.ts'
import { Comparison } from './compare.ts'
import type { SampleCount } from './compare.ts'
import { call } from './http-call.ts'

export interface ApiAccess {
  readonly port: number
  readonly host: string
  readonly cookie: string | null
}

export interface RecordingCheck {
  readonly samples: SampleCount
  readonly marks: number
  /** Everything that is not as it should be, in words. */
  readonly problems: readonly string[]
}

/** Times of a trace are printed to the last digit, those of marks in µs. */
const RELATIVE_TOLERANCE = 1e-9
const MARK_TOLERANCE_S = 2e-6

/** Reads one finished recording back through the API and compares it, value by value. */
export async function checkThroughApi(api: ApiAccess, account: RecordingAccount): Promise<RecordingCheck> {
  const { session } = account
  const problems: string[] = []
  const comparison = new Comparison(account.key, account.acknowledged)
  const path = `/api/sessions/${session}`
  const { state } = JSON.parse(await get(api, path)) as { state: string }
  if (account.finishedSamples !== null && state !== 'finished') problems.push(`is ${state}, not finished`)
  if (account.acknowledged === 0) return { samples: comparison.result(), marks: 0, problems }
  const times: { index: number; tS: number }[] = []
  for (const [tS, ...values] of rowsOf(await get(api, `${path}/trace.csv`))) {
    const index = comparison.next(values)
    if (index !== null) times.push({ index, tS })
  }
  const samples = comparison.result()
  const timeProblem = proportionProblem(times)
  if (timeProblem) problems.push(timeProblem)
  const last = times.at(-1)
  const rateHz = last && last.tS > 0 ? last.index / last.tS : RATE_HZ
  const marks = JSON.parse(await get(api, `${path}/marks`)) as ShownMark[]
  problems.push(...markProblems(account, marks, RATE_HZ / rateHz))
  if (state === 'finished') await get(api, `${path}/report`)
  return { samples, marks: marks.length, problems: problems.map((text) => `${session}: ${text}`) }
}

/** Ids and states of all sessions the server knows. */
export async function allSessions(api: ApiAccess): Promise<Map<string, string>> {
  const states = new Map<string, string>()
  let cursor: string | null = null
  do {
    const at: string = cursor === null ? '' : `&cursor=${encodeURIComponent(cursor)}`
    const page = JSON.parse(await get(api, `/api/sessions?limit=500${at}`)) as {
      sessions: { id: string; state: string }[]
      next: string | null
    }
    for (const { id, state } of page.sessions) {
      if (states.has(id)) throw new Error(`session ${id} is listed twice`)
      states.set(id, state)
    }
    cursor = page.next
  } while (cursor !== null)
  return states
}

/** Numbers of the rows of a trace: time and channels. */
function* rowsOf(csv: string): Generator<number[]> {
  let columns = 0
  for (const line of csv.split('\n')) {
    if (line === '' || line.startsWith('#')) continue
    const cells = line.split(',')
    if (columns === 0) {
      columns = cells.filter((name) => /^(t_s|[ag][xyz]_)/.test(name)).length
      continue
    }
    yield cells.slice(0, columns).map(Number)
  }
}

/** Times must lie at index ÷ one rate, ascending; null when they do. */
function proportionProblem(times: readonly { index: number; tS: number }[]): string | null {
  const last = times.at(-1)
  if (!last || last.index === 0) return null
  const periodS = last.tS / last.index
  if (Math.abs(periodS * RATE_HZ - 1) > 0.05) return `the sensor is said to run at ${1 / periodS} Hz`
  const wrong = times.find(
    ({ index, tS }) => Math.abs(tS - index * periodS) > RELATIVE_TOLERANCE * Math.max(1, last.tS),
  )
  return wrong ? `sample ${wrong.index} lies at ${wrong.tS} s instead of ${wrong.index * periodS} s` : null
}

interface ShownMark {
  readonly id: string
  readonly atS: number
  readonly kind: string
  readonly note: string | null
}

/** Every mark that was confirmed once, where it was set, and none that nobody set. */
function markProblems(account: RecordingAccount, stored: readonly ShownMark[], scale: number): string[] {
  const byId = new Map(stored.map((mark) => [mark.id, mark]))
  const problems: string[] = []
  if (byId.size !== stored.length) problems.push('a mark is there twice')
  for (const { id, atS, kind, note } of account.marks) {
    const found = byId.get(id)
    if (!found) problems.push(`mark ${id} was confirmed and is gone`)
    else if (
      found.kind !== kind ||
      found.note !== note ||
      Math.abs(found.atS - atS * scale) > MARK_TOLERANCE_S
    ) {
      problems.push(`mark ${id} is ${JSON.stringify(found)}, set as ${kind} at ${atS * scale} s`)
    }
  }
  const surplus = stored.length - account.marks.length
  if (surplus > account.unconfirmedMarks) problems.push(`${surplus} marks more than were set`)
  return problems
}

async function get({ port, host, cookie }: ApiAccess, path: string): Promise<string> {
  for (;;) {
    const { status, text } = await call({ method: 'GET', port, path, host, cookie })
    if (status === 200) return text
    if (status !== 429) throw new Error(`${path} answered ${status}: ${text}`)
    await new Promise((resolve) => setTimeout(resolve, 2000))
  }
}
