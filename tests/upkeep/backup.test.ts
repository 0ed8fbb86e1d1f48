import { createHash } from 'node:crypto'
import { mkdirSync, readFileSync, readdirSync, statSync, truncateSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { beforeAll, describe, expect, it, onTestFinished } from 'vitest'
import { openSqliteStore } from '#server/store/sqlite/store'
import { temporaryDir } from '../helpers/build-app.ts'
import { startServer } from '../helpers/running-server.ts'
import { addSessions } from '../faults/api.ts'
import { CHANNELS, SteadySender, truth } from '../faults/steady-sender.ts'
import { commandIsBuilt, startCommand, swaybook } from './command.ts'
import { flipBit, storeSession } from './stored-data.ts'

const STREAMS = 4
const BACKUPS = 5
const POLL = { timeout: 60_000, interval: 5 }

beforeAll(commandIsBuilt, 120_000)

describe('backup', () => {
  it(
    'while four senders stream: holds every sample acknowledged before it began, as one state, and restores',
    { timeout: 300_000 },
    async () => {
      const dir = await temporaryDir()
      const dataFolder = join(dir, 'data')
      const server = await startServer({ dataFolder })
      onTestFinished(() => server.kill())
      const wsUrl = () => server.url.replace('http', 'ws')
      const sessions = await addSessions(server.url, STREAMS)
      const senders = sessions.map((session, i) => new SteadySender({ wsUrl, session, seed: i + 1 }))
      onTestFinished(() => senders.forEach((sender) => sender.stop()))
      const running = Promise.all(senders.map((sender) => sender.run()))
      let during = 0
      for (let round = 0; round < BACKUPS; round++) {
        await expect
          .poll(() => senders.every(({ acknowledged }) => acknowledged > 2000 * (round + 1)), POLL)
          .toBe(true)
        const before = senders.map(({ acknowledged }) => acknowledged)
        const dest = join(dir, `backup-${round}`)
        const { code, out, err } = await swaybook('backup', dest, '--data', dataFolder)
        expect(err).toBe('')
        expect(code).toBe(0)
        expect(out).toMatch(/1 dogs, 4 sessions, \d+ samples/)
        const sent = senders.map((sender) => sender.sent)
        if (senders.some(({ acknowledged }, i) => acknowledged > before[i])) during++

        const restored = join(dir, `restored-${round}`)
        expect((await swaybook('restore', dest, '--data', restored)).code).toBe(0)
        const kept = await prefixesOf(restored)
        for (const [i, length] of kept.entries()) {
          expect(length, `stream ${i + 1}`).toBeGreaterThanOrEqual(before[i])
          expect(length, `stream ${i + 1}`).toBeLessThanOrEqual(sent[i])
        }
      }
      // Otherwise this would prove nothing about a server that records.
      expect(during, 'backups during which samples were acknowledged').toBe(BACKUPS)
      const totals = senders.map((sender) => sender.end())
      await running
      expect(senders.map(({ finished }) => finished?.samples)).toEqual(totals)
      expect(senders.flatMap(({ problems, errors }) => [...problems, ...errors])).toEqual([])
      expect(await server.stop()).toBe(0)
    },
  )

  it('writes a manifest that names version, rows and the SHA-256 of the file, readable by its owner alone', async () => {
    const dir = await temporaryDir()
    await storeSession(join(dir, 'data'), 'Juniper')
    const dest = join(dir, 'copy')
    expect((await swaybook('backup', dest, '--data', join(dir, 'data'))).code).toBe(0)
    const manifest = JSON.parse(readFileSync(join(dest, 'manifest.json'), 'utf8'))
    const bytes = readFileSync(join(dest, 'swaybook.sqlite'))
    const sha256 = createHash('sha256').update(bytes).digest('hex')
    expect(manifest).toMatchObject({
      format: 'swaybook-backup',
      counts: { dogs: 1, sessions: 1, streams: 1 },
      samples: { streams: 1, blocks: 3, samples: 6000, lost: 0 },
      files: [{ path: 'swaybook.sqlite', bytes: bytes.length, sha256 }],
    })
    expect(manifest.migrations).toContain('001-first')
    expect(readdirSync(dest).sort()).toEqual(['manifest.json', 'swaybook.sqlite'])
    if (process.platform !== 'win32') {
      expect(statSync(dest).mode & 0o777).toBe(0o700)
      for (const name of readdirSync(dest)) expect(statSync(join(dest, name)).mode & 0o777, name).toBe(0o600)
    }
    expect((await swaybook('verify', dest)).code).toBe(0)
  })

  it('overwrites nothing: neither a backup, nor a file, nor an empty folder, nor one that is under way', async () => {
    const dir = await temporaryDir()
    const data = join(dir, 'data')
    await storeSession(data, 'Juniper')
    mkdirSync(join(dir, 'empty'))
    writeFileSync(join(dir, 'file'), 'mine')
    mkdirSync(join(dir, 'busy.partial'))
    for (const name of ['empty', 'file', 'busy']) {
      const { code, err } = await swaybook('backup', join(dir, name), '--data', data)
      expect(code).toBe(3)
      expect(err).toMatch(new RegExp(`^swaybook: .*${name}.*\\n$`))
    }
    expect(readFileSync(join(dir, 'file'), 'utf8')).toBe('mine')
    expect(readdirSync(join(dir, 'empty'))).toEqual([])
    expect(readdirSync(join(dir, 'busy.partial'))).toEqual([])
  })

  it('says what cannot be copied, and leaves nothing', async () => {
    const dir = await temporaryDir()
    const noData = await swaybook('backup', join(dir, 'b'), '--data', join(dir, 'none'))
    expect(noData).toMatchObject({ code: 3, out: '' })
    await storeSession(join(dir, 'data'), 'Juniper')
    truncateSync(join(dir, 'data', 'swaybook.sqlite'), 40_000)
    const damaged = await swaybook('backup', join(dir, 'b'), '--data', join(dir, 'data'))
    expect(damaged.code).toBe(3)
    expect(readdirSync(dir)).toEqual(['data'])
  })

  it('keeps a copy of damaged samples and says what is damaged', async () => {
    const dir = await temporaryDir()
    await storeSession(join(dir, 'data'), 'Juniper')
    flipBit(join(dir, 'data'), 'stream-Juniper', 2000)
    const { code, err } = await swaybook('backup', join(dir, 'copy'), '--data', join(dir, 'data'))
    expect(code).toBe(3)
    expect(err).toMatch(/what was copied is damaged.*\n.*stream-Juniper/)
    expect(readdirSync(join(dir, 'copy'))).toHaveLength(2)
  })

  it('killed on its way it leaves a folder that says so, never one that looks like a backup', async () => {
    const dir = await temporaryDir()
    await storeSession(join(dir, 'data'), 'Juniper', 400)
    for (const name of ['first', 'second']) {
      const { child, ended } = startCommand('backup', join(dir, name), '--data', join(dir, 'data'))
      const partial = join(dir, `${name}.partial`)
      await expect
        .poll(() => readdirSync(dir).includes(`${name}.partial`) || child.exitCode !== null, {
          timeout: 20_000,
          interval: 1,
        })
        .toBe(true)
      child.kill('SIGKILL')
      await ended
      const left = readdirSync(dir)
      if (left.includes(name)) expect((await swaybook('verify', join(dir, name))).code).toBe(0)
      else expect(left).toContain(`${name}.partial`)
      expect((await swaybook('restore', partial, '--data', join(dir, 'new'))).code).toBe(3)
    }
  })
})

/** How many samples of each stream a restored folder holds; every one must be the true one, without a gap. */
async function prefixesOf(dataFolder: string): Promise<number[]> {
  const store = await openSqliteStore(dataFolder, 1)
  try {
    return await Promise.all(
      Array.from({ length: STREAMS }, async (_, i) => {
        let next = 0
        for await (const block of store.series.readSamples(`steady-${i + 1}`, 0, Number.MAX_SAFE_INTEGER)) {
          expect(block.firstIndex).toBe(next)
          for (let axis = 0; axis < CHANNELS; axis++) {
            const wrong = block.values[axis].findIndex((value, k) => value !== truth(i + 1, axis, next + k))
            expect(wrong, `stream ${i + 1}, axis ${axis}`).toBe(-1)
          }
          next += block.count
        }
        expect((await store.series.state(`steady-${i + 1}`)).nextIndex).toBe(next)
        return next
      }),
    )
  } finally {
    await store.close()
  }
}
