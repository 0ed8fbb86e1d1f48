import { join } from 'node:path'
import { beforeAll, describe, expect, it, onTestFinished } from 'vitest'
import Sqlite from 'better-sqlite3'
import type { Report } from '#signal/report-types'
import { ANALYSIS_VERSION } from '#signal/constants'
import { temporaryDir } from '../helpers/build-app.ts'
import { startServer } from '../helpers/running-server.ts'
import { commandIsBuilt, startCommand, swaybook } from './command.ts'
import { ageReports, peoplesRows, storedAnalyses, storeMeasured } from './measured-sessions.ts'
import { flipBit, storeSession, tamper } from './stored-data.ts'

beforeAll(commandIsBuilt, 120_000)

function trailOf(dataDir: string) {
  const raw = new Sqlite(join(dataDir, 'swaybook.sqlite'), { readonly: true })
  try {
    return raw
      .prepare<[], { session_id: string; actor: string; action: string; detail: string }>(
        'select session_id, actor, action, detail from audit order by seq',
      )
      .all()
  } finally {
    raw.close()
  }
}

function blockOf(dataDir: string, sessionId: string): string {
  const raw = new Sqlite(join(dataDir, 'swaybook.sqlite'), { readonly: true })
  try {
    return raw
      .prepare<[string], string>('select id from streams where session_id = ?')
      .pluck()
      .get(sessionId)!
  } finally {
    raw.close()
  }
}

describe('reanalyse', () => {
  it('moves no number and writes no line where the analysis is the same', { timeout: 120_000 }, async () => {
    const data = await temporaryDir()
    await storeMeasured(data, 2)
    const before = { analyses: storedAnalyses(data), trail: trailOf(data), rows: peoplesRows(data) }
    const { code, out, err } = await swaybook('reanalyse', '--data', data)
    expect({ code, err }).toEqual({ code: 0, err: '' })
    expect(out).toMatch(
      /none of \d+ numbers moved\n.*none of \d+ numbers moved\n2 of 2 sessions measured by analysis/,
    )
    expect(storedAnalyses(data)).toEqual(before.analyses)
    expect(trailOf(data)).toEqual(before.trail)
    expect(peoplesRows(data)).toBe(before.rows)
    const stale = await swaybook('reanalyse', '--stale', '--data', data)
    expect(stale.code).toBe(0)
    expect(stale.out).toMatch(/left alone, it is of analysis \d+ already\n.*\n0 of 2 sessions measured/)
  })

  it(
    'of another version: says what moved and how far, tells the trail, keeps a corrected hold',
    { timeout: 120_000 },
    async () => {
      const data = await temporaryDir()
      const { dogId, sessionIds } = await storeMeasured(data, 3)
      const [corrected, other, untouched] = sessionIds
      const [original, rows] = [storedAnalyses(data), peoplesRows(data)]
      ageReports(data, [corrected, other])
      const { code, out, err } = await swaybook('reanalyse', '--stale', '--dog', dogId, '--data', data)
      expect({ code, err }).toEqual({ code: 0, err: '' })
      // A tenth more before is a share of 0.1 / 1.1 less now.
      expect(out).toMatch(
        new RegExp(
          `session ${corrected} of Juniper, 2026-03-01T17:30:00.000Z, analysis 1 before: \\d+ of \\d+ numbers moved, ` +
            'most holds\\[\\d\\]\\.sway\\.rms\\.horizontal [\\d.]+ → [\\d.]+ \\(9\\.1 %\\)',
        ),
      )
      expect(out).toContain(`session ${untouched} of Juniper, 2026-03-01T17:30:00.000Z: left alone`)
      expect(out).toMatch(
        /2 of 3 sessions measured by analysis \d+: \d+ of \d+ numbers moved, in 2 sessions; the most: holds/,
      )
      expect(out).toMatch(/1 left alone, 0 could not be measured\n$/)
      // All of it, the version of the session, its figures and pictures included, as the server had measured it.
      expect(storedAnalyses(data)).toEqual(original)
      expect(peoplesRows(data)).toBe(rows)
      const { holds } = JSON.parse(reportOf(data, corrected)) as Report
      expect(holds.at(-1)).toMatchObject({ setBy: 'person' })
      const told = trailOf(data).filter(({ action }) => action === 'session.reanalysed')
      expect(told.map(({ session_id }) => session_id).sort()).toEqual([corrected, other].sort())
      expect(told[0].actor).toBe('command line')
      expect(JSON.parse(told[0].detail)).toEqual({
        numbersMoved: expect.any(Number),
        before: { analysisVersion: '1' },
        after: { analysisVersion: ANALYSIS_VERSION },
      })
    },
  )

  it(
    'killed in the middle: each session is the old one or the new one, and --stale does the rest',
    { timeout: 300_000 },
    async () => {
      const data = await temporaryDir()
      const { sessionIds } = await storeMeasured(data, 12)
      const original = storedAnalyses(data)
      ageReports(data, sessionIds)
      const old = storedAnalyses(data)
      const renewed = () => [...storedAnalyses(data).values()].filter(({ version }) => version !== '1').length
      const inTheMiddle: number[] = []
      for (const wanted of [2, 6]) {
        const { child, ended } = startCommand('reanalyse', '--stale', '--data', data)
        await expect
          .poll(() => renewed() >= wanted || child.exitCode !== null, { timeout: 60_000, interval: 1 })
          .toBe(true)
        child.kill('SIGKILL')
        await ended
        inTheMiddle.push(renewed())
        for (const [id, analysis] of storedAnalyses(data)) {
          const whole = analysis.version === '1' ? old : original
          expect(analysis, id).toEqual(whole.get(id))
        }
      }
      // Otherwise no kill fell into the middle.
      expect(
        inTheMiddle.every((count) => count > 0 && count < 12),
        String(inTheMiddle),
      ).toBe(true)
      const { code, out } = await swaybook('reanalyse', '--stale', '--data', data)
      expect(code).toBe(0)
      expect(out).toContain(`${12 - inTheMiddle[1]} of 12 sessions measured`)
      expect(storedAnalyses(data)).toEqual(original)
      const told = trailOf(data).filter(({ action }) => action === 'session.reanalysed')
      expect(told.map(({ session_id }) => session_id).sort()).toEqual([...sessionIds].sort())
    },
  )

  it(
    'a damaged block is named, its session keeps what it had, the others are done, exit code 3',
    { timeout: 120_000 },
    async () => {
      const data = await temporaryDir()
      const { sessionIds } = await storeMeasured(data, 2)
      const original = storedAnalyses(data)
      ageReports(data, sessionIds)
      const old = storedAnalyses(data)
      const stream = blockOf(data, sessionIds[0])
      flipBit(data, stream, 0)
      const { code, out, err } = await swaybook('reanalyse', '--data', data)
      expect(code).toBe(3)
      expect(err).toMatch(
        new RegExp(`session ${sessionIds[0]} .*keeps what it has: the block of stream ${stream} at index 0 `),
      )
      expect(out).toMatch(/1 of 2 sessions measured.*\n0 left alone, 1 could not be measured\n$/)
      expect(storedAnalyses(data).get(sessionIds[0])).toEqual(old.get(sessionIds[0]))
      expect(storedAnalyses(data).get(sessionIds[1])).toEqual(original.get(sessionIds[1]))
    },
  )

  it('leaves alone what has no numbers, and says why', { timeout: 120_000 }, async () => {
    const data = await temporaryDir()
    await storeSession(data, 'Juniper')
    await storeSession(data, 'Bramble')
    tamper(data, (raw) =>
      raw.exec("update sessions set state = 'failed', problem = 'Too short.' where id = 'session-Bramble'"),
    )
    const { code, out } = await swaybook('reanalyse', '--data', data)
    expect(code).toBe(0)
    expect(out).toMatch(/session-Juniper .*: left alone, it is still open/)
    expect(out).toMatch(/session-Bramble .*: left alone, it has no numbers: Too short\./)
    const one = await swaybook('reanalyse', '--session', 'session-Juniper', '--data', data)
    expect(one.out).toMatch(/^session session-Juniper .*\n0 of 1 sessions/)
  })

  it(
    'refuses a running server, unknown ids and data of another version, and changes nothing',
    { timeout: 120_000 },
    async () => {
      const data = await temporaryDir()
      const server = await startServer({ dataFolder: data })
      onTestFinished(() => server.kill())
      const running = await swaybook('reanalyse', '--data', data)
      expect(running.code).toBe(3)
      expect(running.err).toMatch(/^swaybook: .*in use by another running Swaybook. Stop that one/)
      await server.stop()
      for (const [option, words] of [
        ['--dog', 'there is no dog nobody'],
        ['--session', 'there is no session nobody'],
      ]) {
        const unknown = await swaybook('reanalyse', option, 'nobody', '--data', data)
        expect(unknown).toMatchObject({ code: 3, out: '' })
        expect(unknown.err).toContain(words)
      }
      expect(await swaybook('reanalyse', '--data', data)).toMatchObject({
        code: 0,
        out: `There are no sessions in ${data} to measure.\n`,
      })
      tamper(data, (raw) => raw.exec("delete from kysely_migration where name = '006-series-places'"))
      const older = await swaybook('reanalyse', '--data', data)
      expect(older.code).toBe(3)
      expect(older.err).toMatch(/earlier version \(without 006-series-places\). Run swaybook migrate first/)
    },
  )
})

function reportOf(dataDir: string, sessionId: string): string {
  const raw = new Sqlite(join(dataDir, 'swaybook.sqlite'), { readonly: true })
  try {
    return raw
      .prepare<[string], string>('select report from reports where session_id = ?')
      .pluck()
      .get(sessionId)!
  } finally {
    raw.close()
  }
}
