import { execFile } from 'node:child_process'
import { readFileSync } from 'node:fs'
import { cp, mkdir, mkdtemp, rm, symlink } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { promisify } from 'node:util'
import { expect, it, onTestFinished } from 'vitest'
import { exposureOf } from '#server/exposure/exposure'
import { OWNER_PASSWORD_FILE } from '#server/people/first-password'
import { loadInfluxSettings } from '#server/store/influx/load-settings'

const ROOT = new URL('../../', import.meta.url)
const read = (name: string) => readFileSync(fileURLToPath(new URL(name, ROOT)), 'utf8')
const run = promisify(execFile)
const compose = read('docker-compose.yml')

/** There is no Docker engine in the tests: only what can be read from the file is checked. */
it('the compose file holds no secret and names every setting the example has', () => {
  const asked = new Set([...compose.matchAll(/\$\{(\w+)/g)].map(([, name]) => name))
  const example = [...read('.env.example').matchAll(/^(\w+)=(.*)$/gm)].map(([, name, value]) => ({
    name,
    value,
  }))
  expect([...asked].sort()).toEqual(example.map(({ name }) => name).sort())
  for (const { name, value } of example) {
    if (!/TOKEN|PASSWORD/.test(name)) continue
    expect(value, name).toBe('')
    // Compose ends when one that is asked for so is missing (Compose specification, "Interpolation").
    const uses = compose.split('\n').filter((line) => line.includes(`\${${name}`))
    expect(
      uses.every((line) => line.includes(`\${${name}:?`)),
      name,
    ).toBe(true)
  }
  expect(read('.gitignore').split('\n')).toContain('.env')
  expect(read('.dockerignore').split('\n')).toContain('.env')
})

it('the settings of the compose file make a server for this machine, or one that others reach by a proxy', () => {
  const block = compose.slice(compose.indexOf('  swaybook:'))
  const settings = (given: Record<string, string>) =>
    Object.fromEntries(
      [...block.matchAll(/^ {6}(HOST|SWAYBOOK_\w+): (.*)$/gm)].map(([, name, value]) => [
        name,
        value.replace(
          /\$\{(\w+):-([^}]*)\}/g,
          (_, asked: string, otherwise: string) => given[asked] || otherwise,
        ),
      ]),
    )
  expect(exposureOf(settings({}), false)).toMatchObject({ exposure: 'this computer', host: '127.0.0.1' })
  const opened = settings({
    SWAYBOOK_HOST: '0.0.0.0',
    SWAYBOOK_BEHIND_PROXY: '1',
    SWAYBOOK_PUBLIC_URL: 'https://dogs.example',
    SWAYBOOK_PROXY_ADDRESSES: '10.0.0.7',
  })
  expect(exposureOf(opened, false)).toMatchObject({
    exposure: 'proxy',
    host: '0.0.0.0',
    proxyAddresses: ['10.0.0.7'],
  })
  // The secret it mounts is the file the server is told of, and nothing that git or the image takes along.
  const secret = /^ {4}file: \.\/(\S+)$/m.exec(compose.slice(compose.indexOf('\nsecrets:')))![1]
  expect(opened[OWNER_PASSWORD_FILE]).toBe('/run/secrets/owner-password')
  for (const list of ['.gitignore', '.dockerignore']) expect(read(list).split('\n')).toContain(secret)
})

it('the settings the compose file gives Swaybook are those it takes', () => {
  const block = compose.slice(compose.indexOf('  swaybook:'))
  const env = Object.fromEntries(
    [...block.matchAll(/^ {6}(INFLUX_\w+): (.*)$/gm)].map(([, name, value]) => [
      name,
      value.replace(/\$\{\w+:-([^}]*)\}/g, '$1').replace(/\$\{\w+:\?[^}]*\}/g, 'secret'),
    ]),
  )
  expect(loadInfluxSettings(env)).toMatchObject({
    url: 'http://127.0.0.1:8086',
    target: { api: 'v2', org: 'home', bucket: 'swaybook', token: 'secret' },
  })
})

it('the image holds what its command line needs', async () => {
  const dockerfile = read('server/Dockerfile')
  const image = await mkdtemp(join(tmpdir(), 'swaybook-test-'))
  onTestFinished(() => rm(image, { recursive: true }))
  for (const [, source, target] of dockerfile.matchAll(/^COPY --from=build \/app\/(\S+) (\S+)$/gm)) {
    const place = join(image, target, target.endsWith('/') ? source : '')
    await mkdir(dirname(place), { recursive: true })
    await symlinkOrCopy(source, place)
  }
  const entry = /exec node \/app\/(\S+)/.exec(dockerfile)?.[1]
  const { stdout } = await run(process.execPath, [join(image, String(entry)), 'verify', '--help'])
  expect(stdout).toContain('swaybook verify')
})

/** Packages are many: the image has them, the test points to them. */
async function symlinkOrCopy(source: string, place: string): Promise<void> {
  const from = fileURLToPath(new URL(source, ROOT))
  if (source === 'node_modules') await symlink(from, place)
  else await cp(from, place, { recursive: true })
}
