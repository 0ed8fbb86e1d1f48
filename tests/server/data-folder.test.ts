import { chmod, mkdir, readdir, stat, symlink, writeFile } from 'node:fs/promises'
import { join } from 'node:path'
import { describe, expect, it, onTestFinished } from 'vitest'
import { DataFolderError, makeDataFolder } from '#server/store/data-folder'
import { lockFolder } from '#server/store/sqlite/folder-lock'
import { openSqliteStore } from '#server/store/sqlite/store'
import { temporaryDir } from '../helpers/build-app.ts'
import { runServer, serverProcess } from '../helpers/server-process.ts'

describe('makeDataFolder', () => {
  it('makes the folder and what is missing above it, for its owner alone, and leaves one that is there', async () => {
    const dir = join(await temporaryDir(), 'a', 'b')
    makeDataFolder(dir)
    makeDataFolder(dir)
    const { mode } = await stat(dir)
    // Windows has no such permissions.
    if (process.platform !== 'win32') expect(mode & 0o777).toBe(0o700)
  })

  it.runIf(process.platform === 'linux')(
    'refuses what the system cannot make, without trying for ever',
    () => {
      expect(() => makeDataFolder('/proc/nope')).toThrow(DataFolderError)
      expect(() => makeDataFolder('/proc/nope/deeper')).toThrow(/cannot be used: .*\/proc\/nope/)
    },
  )

  it.runIf(process.platform === 'linux')('a folder that takes no files is refused by name', async () => {
    await expect(openSqliteStore('/proc', 1)).rejects.toThrow(/cannot be used: .*\(\/proc\)/)
  })

  it('refuses a file, a place below a file and a link that leads nowhere, naming them', async () => {
    const dir = await temporaryDir()
    const file = join(dir, 'file')
    await writeFile(file, '')
    expect(() => makeDataFolder(file)).toThrow(`${file} is not a folder`)
    expect(() => makeDataFolder(join(file, 'below'))).toThrow(DataFolderError)
    const link = join(dir, 'link')
    await symlink(join(dir, 'nowhere'), link)
    expect(() => makeDataFolder(link)).toThrow(link)
  })

  // Root may write everywhere.
  it.skipIf(process.getuid?.() === 0 || process.platform === 'win32')(
    'refuses a folder that may not be written to',
    async () => {
      const dir = join(await temporaryDir(), 'mine')
      await mkdir(dir)
      await chmod(dir, 0o500)
      expect(() => makeDataFolder(dir)).toThrow(/permission denied/)
      expect(() => makeDataFolder(join(dir, 'below'))).toThrow(/permission denied/)
    },
  )
})

describe.skipIf(process.platform === 'win32')('what lies in a data folder', () => {
  const modeOf = async (path: string) => (await stat(path)).mode & 0o777

  it('is for its owner alone, also what came from elsewhere', async () => {
    const dir = await temporaryDir()
    await (await openSqliteStore(dir, 1)).close()
    const database = join(dir, 'swaybook.sqlite')
    await chmod(database, 0o644)
    await chmod(dir, 0o755)
    await (await openSqliteStore(dir, 1)).close()
    expect([await modeOf(dir), await modeOf(database)]).toEqual([0o700, 0o600])
  })

  it('leaves a folder alone that holds more than this', async () => {
    const dir = await temporaryDir()
    await writeFile(join(dir, 'letters.txt'), '')
    await chmod(dir, 0o755)
    await (await openSqliteStore(dir, 1)).close()
    await (await openSqliteStore(dir, 1)).close()
    expect([await modeOf(dir), await modeOf(join(dir, 'swaybook.sqlite'))]).toEqual([0o755, 0o600])
  })

  it('is made for its owner alone by a running server, whatever the account usually does', async () => {
    const dir = await temporaryDir()
    await serverProcess(dir)
    for (const name of await readdir(dir)) {
      expect([name, (await modeOf(join(dir, name))) & 0o077]).toEqual([name, 0])
    }
  })
})

describe('a data folder that a server has', () => {
  it('is refused to another store, and free again once the first is closed', async () => {
    const dir = await temporaryDir()
    const first = await openSqliteStore(dir, 1)
    await expect(openSqliteStore(dir, 1)).rejects.toThrow(`${dir} is in use by another running Swaybook`)
    await first.close()
    await (await openSqliteStore(dir, 1)).close()
  })

  it('is free again after its database could not be opened', async () => {
    const dir = await temporaryDir()
    await writeFile(
      join(dir, 'swaybook.sqlite'),
      'this is no database, and long enough to be one '.repeat(50),
    )
    await expect(openSqliteStore(dir, 1)).rejects.toThrow(/not a database/)
    const letGo = lockFolder(dir)
    onTestFinished(letGo)
    expect(() => lockFolder(dir)).toThrow(DataFolderError)
  })

  it('refuses a second process with one line that names the folder, and is taken over after a kill', async () => {
    const dir = await temporaryDir()
    const first = await serverProcess(dir)
    const second = await runServer({ SWAYBOOK_DATA: dir })
    expect(await second.exited).toBe(1)
    expect(second.output.err).toMatch(/^swaybook: The data folder .* is in use by another running Swaybook\./)
    expect(second.output.err).toContain(dir)
    expect(second.output.err.trim().split('\n')).toHaveLength(1)
    first.child.kill('SIGKILL')
    await first.exited
    const third = await serverProcess(dir)
    expect((await fetch(`${third.url}/api/health`)).status).toBe(200)
  })

  it('goes to one of several processes that start at once', async () => {
    const dir = await temporaryDir()
    const servers = await Promise.all([1, 2, 3].map(() => runServer({ SWAYBOOK_DATA: dir })))
    const outcomes = servers.map(({ child, exited }) =>
      Promise.race([
        exited.then(() => 'refused' as const),
        new Promise<'runs'>((resolve) => child.stdout.once('data', () => resolve('runs'))),
      ]),
    )
    expect((await Promise.all(outcomes)).sort()).toEqual(['refused', 'refused', 'runs'])
  })
})
