import {
  existsSync,
  linkSync,
  readdirSync,
  readFileSync,
  statSync,
  truncateSync,
  writeFileSync,
} from 'node:fs'
import { cp } from 'node:fs/promises'
import { join } from 'node:path'
import { setTimeout as sleep } from 'node:timers/promises'
import Sqlite from 'better-sqlite3'
import { beforeAll, describe, expect, it, onTestFinished } from 'vitest'
import { lockFolder } from '#server/store/sqlite/folder-lock'
import { backUp } from '#server/upkeep/backup'
import { verify } from '#server/upkeep/verify'
import { createRandom } from '#signal/simulator/random'
import { temporaryDir } from '../helpers/build-app.ts'
import { startServer } from '../helpers/running-server.ts'
import { commandIsBuilt, startCommand, swaybook } from './command.ts'
import { storeSession, tamper } from './stored-data.ts'

const KILLS = 16

beforeAll(commandIsBuilt, 120_000)

/** A folder with a backup of one dog, and a data folder of another one. */
async function twoDogs(blocks = 3): Promise<{ dir: string; backup: string; data: string }> {
  const dir = await temporaryDir()
  const [source, backup, data] = [join(dir, 'source'), join(dir, 'backup'), join(dir, 'data')]
  await storeSession(source, 'Juniper', blocks)
  await backUp(source, backup)
  await storeSession(data, 'Bramble', blocks)
  return { dir, backup, data }
}

function dogsIn(dataDir: string): string[] {
  const raw = new Sqlite(join(dataDir, 'swaybook.sqlite'), { fileMustExist: true })
  try {
    return raw.prepare<[], string>('select name from dogs').pluck().all()
  } finally {
    raw.close()
  }
}

describe('restore', () => {
  it('into a new folder gives the same rows, and a server starts on it', async () => {
    const { dir, backup } = await twoDogs()
    const data = join(dir, 'new', 'place')
    const { code, out } = await swaybook('restore', backup, '--data', data)
    expect(code).toBe(0)
    expect(out).toContain('Restored 1 dogs and 1 sessions')
    expect((await verify(data)).findings).toEqual([])
    const server = await startServer({ dataFolder: data })
    onTestFinished(() => server.kill())
    expect(await (await fetch(`${server.url}/api/dogs`)).json()).toMatchObject([{ name: 'Juniper' }])
  })

  it('leaves a folder that has data as it is, until --replace is said; then what was there is kept aside', async () => {
    const { backup, data } = await twoDogs()
    const refused = await swaybook('restore', backup, '--data', data)
    expect(refused.code).toBe(3)
    expect(refused.err).toMatch(/--replace/)
    expect(dogsIn(data)).toEqual(['Bramble'])
    const { code, out } = await swaybook('restore', backup, '--replace', '--data', data)
    expect(code).toBe(0)
    expect(dogsIn(data)).toEqual(['Juniper'])
    const aside = /kept as (\S+\.sqlite)/.exec(out)![1]
    const raw = new Sqlite(aside, { readonly: true })
    expect(raw.prepare('select name from dogs').pluck().all()).toEqual(['Bramble'])
    expect(raw.pragma('integrity_check')).toEqual([{ integrity_check: 'ok' }])
    raw.close()
    expect((await verify(data)).notes.join()).toContain(aside)
  })

  it('what only the write-ahead log held is kept aside too, and never reaches the new database', async () => {
    const { backup, data } = await twoDogs()
    // A server that was killed: its log is not folded into the database.
    const raw = new Sqlite(join(data, 'swaybook.sqlite'))
    raw.pragma('wal_autocheckpoint = 0')
    raw.exec("update dogs set name = 'only in the log'")
    await cp(data, `${data}-killed`, { recursive: true })
    raw.close()
    const killed = `${data}-killed`
    expect(statSync(join(killed, 'swaybook.sqlite-wal')).size).toBeGreaterThan(0)
    const { out } = await swaybook('restore', backup, '--replace', '--data', killed)
    expect(dogsIn(killed)).toEqual(['Juniper'])
    expect((await verify(killed)).findings).toEqual([])
    const aside = new Sqlite(/kept as (\S+\.sqlite)/.exec(out)![1], { readonly: true })
    expect(aside.prepare('select name from dogs').pluck().all()).toEqual(['only in the log'])
    aside.close()
  })

  it('replaces a database that cannot be opened, and keeps its bytes', async () => {
    const { backup, data } = await twoDogs()
    writeFileSync(join(data, 'swaybook.sqlite'), 'no database at all, but long enough to look at'.repeat(200))
    const broken = readFileSync(join(data, 'swaybook.sqlite'))
    const { code, out } = await swaybook('restore', backup, '--replace', '--data', data)
    expect(code).toBe(0)
    expect(dogsIn(data)).toEqual(['Juniper'])
    expect(readFileSync(/kept as (\S+\.sqlite)/.exec(out)![1])).toEqual(broken)
  })

  it('is refused while a server has the folder, and changes nothing', async () => {
    const { backup, data } = await twoDogs()
    const letGo = lockFolder(data)
    const { code, err } = await swaybook('restore', backup, '--replace', '--data', data)
    letGo()
    expect(code).toBe(3)
    expect(err).toMatch(/in use by another running Swaybook/)
    expect(dogsIn(data)).toEqual(['Bramble'])
  })

  it.each([
    [
      'a truncated file',
      (backup: string) => truncateSync(join(backup, 'swaybook.sqlite'), 50_000),
      /50000 bytes/,
    ],
    [
      'a flipped bit',
      (backup: string) => {
        const path = join(backup, 'swaybook.sqlite')
        const bytes = readFileSync(path)
        bytes[Math.floor(bytes.length / 2)] ^= 1
        writeFileSync(path, bytes)
      },
      /SHA-256/,
    ],
    [
      'a manifest of a newer format',
      (backup: string) =>
        changeManifest(backup, (text) => text.replace('"formatVersion": 1', '"formatVersion": 9')),
      /a newer Swaybook made this backup/,
    ],
    [
      'tables of a newer version',
      (backup: string) =>
        changeManifest(backup, (text) => text.replace('"001-first"', '"001-first", "999-later"')),
      /newer Swaybook \(it has 999-later\)/,
    ],
    [
      'a manifest cut short',
      (backup: string) => changeManifest(backup, (text) => text.slice(0, 100)),
      /JSON/,
    ],
    [
      'a manifest that leads elsewhere',
      (backup: string) => changeManifest(backup, (text) => text.replace('"swaybook.sqlite"', '"../../etc"')),
      /manifest.files.0.path/,
    ],
  ])('%s is refused, and the data stays', async (_, damage, words) => {
    const { backup, data } = await twoDogs()
    damage(backup)
    const { code, err } = await swaybook('restore', backup, '--replace', '--data', data)
    expect(code).toBe(3)
    expect(err).toMatch(words)
    expect(dogsIn(data)).toEqual(['Bramble'])
    expect(readdirSync(data).filter((name) => /replaced|restoring/.test(name))).toEqual([])
  })

  it(
    `killed ${KILLS} times at random moments it leaves the old data or the new, whole, and can be run again`,
    { timeout: 600_000 },
    async () => {
      const { dir, backup, data } = await twoDogs(300)
      const random = createRandom(7)
      // How long the whole thing takes here, to spread the kills over it.
      const started = performance.now()
      await cp(data, join(dir, 'trial'), { recursive: true })
      expect((await swaybook('restore', backup, '--replace', '--data', join(dir, 'trial'))).code).toBe(0)
      const wholeMs = performance.now() - started
      const outcomes = { old: 0, new: 0, onItsWay: 0 }
      for (let kill = 0; kill < KILLS; kill++) {
        const folder = join(dir, `killed-${kill}`)
        await cp(data, folder, { recursive: true })
        const { child, ended } = startCommand('restore', backup, '--replace', '--data', folder)
        // Every other time in the middle of the work, as far as can be seen from outside.
        if (kill % 2 === 0) {
          const begun = () => existsSync(join(folder, 'swaybook.sqlite.restoring')) || child.exitCode !== null
          await expect.poll(begun, { timeout: 20_000, interval: 1 }).toBe(true)
          await sleep(random.uniform() * 30)
        } else {
          await sleep(random.uniform() * wholeMs)
        }
        child.kill('SIGKILL')
        await ended
        if (readdirSync(folder).some((name) => /restoring|replaced/.test(name))) outcomes.onItsWay++
        const [dog] = dogsIn(folder)
        expect((await verify(folder)).findings).toEqual([])
        outcomes[dog === 'Juniper' ? 'new' : 'old']++
        expect((await swaybook('restore', backup, '--replace', '--data', folder)).code).toBe(0)
        expect(dogsIn(folder)).toEqual(['Juniper'])
        expect(readdirSync(folder)).not.toContain('swaybook.sqlite.restoring')
      }
      expect(outcomes.old + outcomes.new).toBe(KILLS)
      // Otherwise the kills came too early or too late to prove anything.
      expect(outcomes.onItsWay).toBeGreaterThan(KILLS / 4)
    },
  )

  it('killed on its way into an empty folder it can be run again without --replace', async () => {
    const { dir, backup } = await twoDogs(300)
    const folder = join(dir, 'empty')
    const { child, ended } = startCommand('restore', backup, '--data', folder)
    const begun = () => existsSync(join(folder, 'swaybook.sqlite.restoring')) || child.exitCode !== null
    await expect.poll(begun, { timeout: 20_000, interval: 1 }).toBe(true)
    child.kill('SIGKILL')
    await ended
    const again = existsSync(join(folder, 'swaybook.sqlite')) ? ['--replace'] : []
    expect((await swaybook('restore', backup, '--data', folder, ...again)).code).toBe(0)
    expect(dogsIn(folder)).toEqual(['Juniper'])
  })

  it('a name of the old database left by a kill is removed, not taken for another copy', async () => {
    const { backup, data } = await twoDogs()
    linkSync(join(data, 'swaybook.sqlite'), join(data, 'replaced-20260301T000000-000Z.sqlite'))
    tamper(data, (raw) => raw.exec("update dogs set name = 'Bramble again'"))
    await swaybook('restore', backup, '--replace', '--data', data)
    const aside = readdirSync(data).filter((name) => /^replaced-.*\.sqlite$/.test(name))
    expect(aside).toHaveLength(1)
    const raw = new Sqlite(join(data, aside[0]), { readonly: true })
    expect(raw.prepare('select name from dogs').pluck().all()).toEqual(['Bramble again'])
    raw.close()
  })
})

function changeManifest(backup: string, change: (text: string) => string): void {
  const path = join(backup, 'manifest.json')
  const before = readFileSync(path, 'utf8')
  const after = change(before)
  expect(after).not.toBe(before)
  writeFileSync(path, after)
}
