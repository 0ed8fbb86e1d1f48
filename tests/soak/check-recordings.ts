import type { ApiAccess, RecordingCheck } from './check-api.ts'
import { allSessions, checkThroughApi } from './check-api.ts'
import { checkInflux } from './check-influx.ts'
import { checkStore } from './check-store.ts'
import type { RecordingAccount } from './client-messages.ts'
import { isExact, sumOf } from './compare.ts'
import type { SampleCount } from './compare.ts'
import type { Influxd } from './influxd.ts'
import type { ServerLives } from './server-lives.ts'

export interface CheckInput {
  readonly api: ApiAccess
  readonly server: ServerLives
  readonly dataFolder: string
  readonly accounts: readonly RecordingAccount[]
  readonly influxd: Influxd | null
}

export interface Checked {
  readonly throughApi: SampleCount
  readonly inStore: SampleCount
  /** By a query of InfluxDB itself; null without one. */
  readonly inInflux: SampleCount | null
  readonly lostRanges: number
  readonly marks: number
  readonly problems: readonly string[]
}

/** Recordings read back at a time. */
const AT_ONCE = 2

/** Everything that was acknowledged, read back through the API, then, the server stopped, from its folder. */
export async function checkRecordings(input: CheckInput): Promise<Checked> {
  const { api, server, dataFolder, accounts, influxd } = input
  const problems = accounts.flatMap(accountProblems)
  const silent = accounts.filter(({ acknowledged }) => acknowledged === 0).length
  if (accounts.length === 0 || silent > 0)
    problems.push(`${silent} of ${accounts.length} recordings sent nothing`)
  problems.push(...(await sessionProblems(api, accounts)))
  const read = await inTurn(accounts, (account) => checkThroughApi(api, account))
  for (const [i, { samples, problems: own }] of read.entries()) {
    problems.push(...own, ...sampleProblems(accounts[i].session, 'through the API', samples))
  }
  // While the server is there to bring what waits.
  const inInflux = influxd && (await checkInflux(influxd, accounts))
  const code = await server.stop()
  if (code !== 0) problems.push(`asked to stop, the server ended with ${code}`)
  const stored = await checkStore({ dataFolder, env: influxd?.settings ?? {}, accounts })
  problems.push(...stored.problems, ...logProblems(server.log))
  const inStore = sumOf(stored.samples)
  problems.push(...sampleProblems('all recordings', 'in the store', inStore))
  const asked = inInflux && sumOf(inInflux.samples)
  if (asked) problems.push(...inInflux.problems, ...sampleProblems('all recordings', 'in InfluxDB', asked))
  return {
    throughApi: sumOf(read.map(({ samples }) => samples)),
    inStore,
    inInflux: asked,
    lostRanges: stored.lostRanges,
    marks: read.reduce((sum, { marks }) => sum + marks, 0),
    problems,
  }
}

function accountProblems(account: RecordingAccount): string[] {
  const { session, total, finishedSamples, acknowledged, viewerSawEnd, unconfirmedMarks } = account
  const problems: string[] = []
  if (finishedSamples === null)
    problems.push(`${session}: never finished, ${acknowledged} of ${total} acknowledged`)
  else if (acknowledged !== total)
    problems.push(`${session}: finished with ${acknowledged} of ${total} acknowledged`)
  if (finishedSamples !== null && !viewerSawEnd)
    problems.push(`${session}: the viewer was never told the end`)
  if (finishedSamples !== null && unconfirmedMarks > 0)
    problems.push(`${session}: ${unconfirmedMarks} marks unconfirmed`)
  return problems
}

async function sessionProblems(api: ApiAccess, accounts: readonly RecordingAccount[]): Promise<string[]> {
  const states = await allSessions(api)
  const missing = accounts.filter(({ session }) => !states.has(session))
  const known = new Set(accounts.map(({ session }) => session))
  // A slot may have opened one whose answer did not reach it when the run ended.
  const surplus = [...states.keys()].filter((id) => !known.has(id))
  return [
    ...missing.map(({ session }) => `${session}: the server does not know it`),
    ...surplus.map((id) => `${id}: nobody has recorded it`),
  ]
}

function sampleProblems(what: string, where: string, count: SampleCount): string[] {
  return isExact(count) ? [] : [`${what}, ${where}: ${JSON.stringify(count)}`]
}

/** Lines of the log at level error and above. */
function logProblems(log: string): string[] {
  return log
    .split('\n')
    .filter((line) => line !== '' && !/"level":(10|20|30|40),/.test(line))
    .map((line) => `the server's log: ${line.slice(0, 1000)}`)
}

async function inTurn(
  accounts: readonly RecordingAccount[],
  check: (account: RecordingAccount) => Promise<RecordingCheck>,
): Promise<RecordingCheck[]> {
  const results: RecordingCheck[] = []
  let next = 0
  const worker = async () => {
    while (next < accounts.length) {
      const i = next++
      results[i] = await check(accounts[i])
    }
  }
  await Promise.all(Array.from({ length: AT_ONCE }, worker))
  return results
}
