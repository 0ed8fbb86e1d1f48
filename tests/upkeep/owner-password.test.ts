import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { chmodSync, readdirSync, readFileSync, statSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { beforeAll, describe, expect, it, onTestFinished } from 'vitest'
import Sqlite from 'better-sqlite3'
import { openSqliteStore } from '#server/store/sqlite/store'
import { withoutSourceCondition } from '../cli/run.ts'
import { temporaryDir } from '../helpers/build-app.ts'
import { pythonWithScipy } from '../helpers/python.mjs'
import { startServer } from '../helpers/running-server.ts'
import { commandIsBuilt, startCommand, swaybook } from './command.ts'

const OLD = 'old harness by the door'
const NEW = 'new harness on the hook'
const bin = fileURLToPath(new URL('../../server/bin.mjs', import.meta.url))

beforeAll(commandIsBuilt, 120_000)

/** With the password on standard input, as from a pipe. */
async function withInput(text: string, ...args: string[]) {
  const { child, ended } = startCommand('owner-password', ...args)
  child.stdin!.end(text)
  return ended
}

async function secret(text: string): Promise<string> {
  const path = join(await temporaryDir(), 'password')
  writeFileSync(path, text, { mode: 0o600 })
  return path
}

async function server(dataFolder: string, env: Record<string, string> = {}) {
  const running = await startServer({ dataFolder, env })
  onTestFinished(() => running.kill())
  return running
}

async function signIn(url: string, password: string, signInName = 'owner') {
  const body = JSON.stringify({ signInName, password })
  const headers = { 'content-type': 'application/json', origin: url }
  const answer = await fetch(`${url}/api/sign-in`, { method: 'POST', headers, body })
  return { status: answer.status, cookie: answer.headers.get('set-cookie')?.split(';')[0] ?? '' }
}

const statusOf = async (url: string, cookie: string) =>
  (await fetch(`${url}/api/dogs`, { headers: { cookie } })).status

function trail(dataDir: string) {
  const raw = new Sqlite(join(dataDir, 'swaybook.sqlite'), { readonly: true })
  try {
    return raw
      .prepare<[], { actor: string; action: string; detail: string }>(
        'select actor, action, detail from security_events order by seq',
      )
      .all()
  } finally {
    raw.close()
  }
}

describe('owner-password', () => {
  it(
    'sets the first password, and later another one: the old one and its sign-ins are over, told in the trail',
    { timeout: 120_000 },
    async () => {
      const data = join(await temporaryDir(), 'data')
      const first = await withInput(`${OLD}\n`, '--data', data)
      expect(first).toMatchObject({ code: 0, err: '' })
      expect(first.out).toContain('sign-in name is "owner"')
      const before = await server(data)
      expect(await statusOf(before.url, '')).toBe(401)
      const { status, cookie } = await signIn(before.url, OLD)
      expect(status).toBe(200)
      expect(await statusOf(before.url, cookie)).toBe(200)
      const running = await withInput(NEW, '--data', data)
      expect(running.code).toBe(3)
      expect(running.err).toMatch(/in use by another running Swaybook/)
      await before.stop()

      const changed = await swaybook(
        'owner-password',
        '--password-file',
        await secret(`${NEW}\n`),
        '--data',
        data,
      )
      expect(changed).toMatchObject({ code: 0, err: '' })
      const after = await server(data)
      expect(await statusOf(after.url, cookie)).toBe(401)
      expect((await signIn(after.url, OLD)).status).toBe(401)
      expect((await signIn(after.url, NEW)).status).toBe(200)
      await after.stop()
      const told = trail(data).filter(({ action }) => action === 'password.set')
      expect(told).toEqual(
        [1, 2].map(() => ({ actor: 'command line', action: 'password.set', detail: '{"person":"Owner"}' })),
      )
      const files = readdirSync(data).map((name) => readFileSync(join(data, name)).toString('latin1'))
      expect(files.filter((text) => text.includes(OLD) || text.includes(NEW))).toEqual([])
      if (process.platform !== 'win32') {
        for (const name of readdirSync(data)) expect(statSync(join(data, name)).mode & 0o077, name).toBe(0)
      }
    },
  )

  it('of another account, and without its second factor, when asked', { timeout: 60_000 }, async () => {
    const data = await temporaryDir()
    const store = await openSqliteStore(data, 1)
    const keeper = await store.people.keeper()
    const by = { name: 'Kit', personId: keeper.id }
    await store.people.offerSecondFactor(keeper.id, 'JBSWY3DPEHPK3PXP')
    await store.people.confirmSecondFactor(keeper.id, 1, ['hash'], by)
    await store.people.rename(keeper.id, { signInName: 'kit@home', name: 'Kit' }, by)
    await store.close()
    const nobody = await withInput(NEW, '--for', 'rowan', '--data', data)
    expect(nobody).toMatchObject({ code: 3, out: '' })
    expect(nobody.err).toContain('no account "rowan"; there are "kit@home"')
    const set = await withInput(NEW, '--for', 'Kit@Home', '--data', data)
    expect(set).toMatchObject({ code: 0, out: expect.stringContaining('Kit has a new password') })
    expect(await factorOf(data)).not.toBeNull()
    expect((await withInput(NEW, '--remove-second-factor', '--data', data)).code).toBe(0)
    expect(await factorOf(data)).toBeNull()
    expect(trail(data).at(-1)).toMatchObject({ actor: 'command line', action: 'second-factor.removed' })
  })

  it(
    'refuses what the screens refuse, says why, never the password, and changes nothing',
    { timeout: 120_000 },
    async () => {
      const data = await temporaryDir()
      for (const [text, words] of [
        ['seven 7', /too short/],
        ['password1', /one that many people have/],
        ['the owner is here', /made with the sign-in name/],
        ['', /too short/],
        ['x'.repeat(5000), /more came on standard input/],
      ] as const) {
        const { code, out, err } = await withInput(text, '--data', data)
        expect(code, err).not.toBe(0)
        expect(out).toBe('')
        expect(err).toMatch(words)
        expect(err.includes(text)).toBe(text === '')
      }
      const argument = await swaybook('owner-password', NEW, '--data', data)
      expect(argument.code).toBe(2)
      expect(argument.err).toMatch(/takes no password as an argument/)
      expect(argument.err).not.toContain(NEW)
      const open = await secret(NEW)
      chmodSync(open, 0o666)
      const changeable = await swaybook('owner-password', '--password-file', open, '--data', data)
      expect(changeable.code).toBe(2)
      expect(changeable.err).toMatch(/--password-file names .*others may change it/)
      expect(trail(data)).toEqual([])
    },
  )

  it.skipIf(!pythonWithScipy())(
    'at a terminal asks twice and shows nothing of what is typed',
    { timeout: 120_000 },
    async () => {
      const data = await temporaryDir()
      const different = await typed(data, NEW, OLD)
      expect(different.code).toBe(2)
      expect(different.shown).toContain('the two passwords differ')
      const { code, shown } = await typed(data, NEW, NEW)
      expect(shown).toMatch(/New password \(not shown\): \r?\nThe same again: \r?\nOwner has a new password/)
      expect(code).toBe(0)
      for (const one of [different, { shown }]) {
        expect(one.shown).not.toContain('harness')
      }
      const running = await server(data)
      expect((await signIn(running.url, NEW)).status).toBe(200)
      const interrupted = await typed(await temporaryDir(), '\u0003')
      expect(interrupted.code).toBe(2)
      expect(interrupted.shown).toContain('no password was given; nothing was changed')
    },
  )
})

describe('SWAYBOOK_OWNER_PASSWORD_FILE', () => {
  const OTHERS = { SWAYBOOK_PUBLIC_URL: 'https://dogs.example', SWAYBOOK_BEHIND_PROXY: '1' }
  /** As a proxy on this computer passes a request on. */
  const viaProxy = {
    'x-forwarded-for': '203.0.113.7',
    'x-forwarded-proto': 'https',
    'x-forwarded-host': 'dogs.example',
    origin: 'https://dogs.example',
    'content-type': 'application/json',
  }
  const signInByProxy = async (url: string, password: string) => {
    const address = /http:\S+/.exec(url)![0]
    const body = JSON.stringify({ signInName: 'owner', password })
    return (await fetch(`${address}/api/sign-in`, { method: 'POST', headers: viaProxy, body })).status
  }

  it(
    'opens a server to others at its first start; later it is ignored, which the log says',
    { timeout: 120_000 },
    async () => {
      const data = await temporaryDir()
      await expect(startServer({ dataFolder: data, env: OTHERS })).rejects.toThrow(
        /owner has no password yet/,
      )
      const file = await secret(`${OLD}\n`)
      const first = await server(data, { ...OTHERS, SWAYBOOK_OWNER_PASSWORD_FILE: file })
      expect(await signInByProxy(first.url, OLD)).toBe(200)
      expect(first.stderr()).toMatch(/"owner-password.set","setting":"SWAYBOOK_OWNER_PASSWORD_FILE"/)
      expect(first.stderr()).not.toContain(OLD)
      await first.stop()
      expect(trail(data)[0]).toEqual({
        actor: 'settings of the server',
        action: 'password.set',
        detail: '{"person":"Owner"}',
      })
      writeFileSync(file, NEW)
      for (const name of [file, `${file}-gone`]) {
        const later = await server(data, { ...OTHERS, SWAYBOOK_OWNER_PASSWORD_FILE: name })
        expect(later.stderr()).toMatch(/"owner-password.ignored","setting":"SWAYBOOK_OWNER_PASSWORD_FILE"/)
        expect(await signInByProxy(later.url, NEW)).toBe(401)
        expect(await signInByProxy(later.url, OLD)).toBe(200)
        await later.stop()
      }
    },
  )

  it(
    'is refused in one line when it is weak, missing, or others may change it',
    { timeout: 60_000 },
    async () => {
      const data = await temporaryDir()
      const start = async (file: string) =>
        startServer({ dataFolder: data, env: { SWAYBOOK_OWNER_PASSWORD_FILE: file } })
      await expect(start(await secret('short'))).rejects.toThrow(
        /swaybook: SWAYBOOK_OWNER_PASSWORD_FILE names .*too short.*Put another one into it\.\n$/,
      )
      const open = await secret(OLD)
      chmodSync(open, 0o622)
      await expect(start(open)).rejects.toThrow(/others may change it/)
      await expect(start(`${open}-none`)).rejects.toThrow(/SWAYBOOK_OWNER_PASSWORD_FILE names .*ENOENT/)
      const running = await server(data)
      expect(await statusOf(running.url, '')).toBe(200)
    },
  )
})

async function factorOf(dataDir: string) {
  const store = await openSqliteStore(dataDir, 1)
  try {
    return (await store.people.keeper()).secondFactor
  } finally {
    await store.close()
  }
}

/** The command at a terminal of its own, where `lines` are typed one after the other. */
async function typed(dataDir: string, ...lines: string[]) {
  const script = fileURLToPath(new URL('type-at-terminal.py', import.meta.url))
  const args = [script, ...lines, '--', process.execPath, bin, 'owner-password', '--data', dataDir]
  const child = spawn(pythonWithScipy()!, args, { env: withoutSourceCondition() })
  let shown = ''
  child.stdout.on('data', (piece: Buffer) => (shown += piece.toString()))
  const [code] = (await once(child, 'close')) as [number | null]
  return { code, shown }
}
