import { readdirSync, readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { describe, expect, it } from 'vitest'
import { loadConfig } from '#server/config'
import { LOG_EVENTS } from '#server/log/events'
import { testApp } from '../helpers/build-app.ts'
import { run } from '../cli/run.ts'

const SERVER = fileURLToPath(new URL('../../server/', import.meta.url))
const GUIDE = readFileSync(`${SERVER}OPERATING.md`, 'utf8')
/** Lines to type. */
const LINES = [...GUIDE.matchAll(/^```\n([^]*?)^```$/gm)].flatMap(([, block]) => block.trim().split('\n'))
const PROSE = GUIDE.replaceAll(/^```\n[^]*?^```$/gm, '')
const SETTING = /\b((?:SWAYBOOK|INFLUX)_[A-Z_]*[A-Z]|HOST|PORT|LOG_LEVEL)\b/g

/** Settings before the command, as a shell takes them, and the command. */
function parts(line: string) {
  const words = line.split(' ')
  const from = words.findIndex((word) => !/^[A-Z_]+=/.test(word))
  return {
    env: Object.fromEntries(words.slice(0, from).map((word) => word.split('=') as [string, string])),
    words: words.slice(from),
  }
}

const COMMANDS = LINES.map((line) => parts(line).words)
  .filter(([npx, name]) => npx === 'npx' && name === 'swaybook')
  .map((words) => words.slice(2).join(' '))

describe('the guide for operators', () => {
  it('shows every command on stored data there is, and no other', async () => {
    const { out } = await run('--help')
    const [, list] = out.split('For whoever runs a server:\n')
    const there = [...list.matchAll(/^ {2}([a-z][a-z-]+) /gm)].map(([, name]) => name)
    expect(there.length).toBeGreaterThan(5)
    expect([...new Set(COMMANDS.map((words) => words.split(' ')[0]))].sort()).toEqual(there.sort())
  })

  it.each(COMMANDS)('npx swaybook %s: the command and its options exist', async (words) => {
    const [command, ...rest] = words.split(' ')
    const help = await run(command, '--help')
    expect(help.code).toBe(0)
    const options = rest.filter((word) => word.startsWith('--'))
    for (const option of options)
      expect(help.out).toMatch(new RegExp(`^  ${option}\\b|: swaybook .*${option}\\b`, 'm'))
    // The options are read as well, and one that is not there is not.
    expect((await run(command, ...rest, '--help')).code).toBe(0)
    expect((await run(command, ...rest, '--no-such-option')).code).toBe(2)
  })

  it('names no option that no command and no start has', async () => {
    const names = [...new Set(COMMANDS.map((words) => words.split(' ')[0]))]
    // One after the other: what one prints must not be taken for another's.
    let known = '--behind-proxy --help '
    for (const name of [...names, 'analyse']) known += (await run(name, '--help')).out
    const named = new Set([...PROSE.matchAll(/`(?:[^`]* )?(--[a-z][a-z-]+)/g)].map(([, option]) => option))
    expect(named.size).toBeGreaterThan(5)
    expect([...named].filter((option) => !new RegExp(`${option}\\b`).test(known))).toEqual([])
  })

  it('names only settings that the server reads and README explains', () => {
    const sources = readdirSync(SERVER, { recursive: true, encoding: 'utf8' })
      .filter((path) => path.endsWith('.ts'))
      .map((path) => readFileSync(SERVER + path, 'utf8'))
      .join('\n')
    const readme = readFileSync(`${SERVER}README.md`, 'utf8')
    const named = [...new Set([...GUIDE.matchAll(SETTING)].map(([, name]) => name))]
    expect(named.length).toBeGreaterThan(12)
    const isRead = (name: string) =>
      [name, name.replace(/_FILE$/, '')].some((one) =>
        new RegExp(`env\\.${one}\\b|'${one}'|\\b${one}(:|,| \\}| = )`).test(sources),
      )
    expect(named.filter((name) => !isRead(name))).toEqual([])
    expect(named.filter((name) => !readme.includes(`\`${name}\``))).toEqual([])
  })

  it('shows starts that the configuration takes', () => {
    const starts = LINES.filter((line) => line.includes('npm start'))
    expect(starts.length).toBeGreaterThan(3)
    const exposures = starts.map((line) => {
      const { env, words } = parts(line)
      return loadConfig({ env, platform: 'linux', behindProxy: words.includes('--behind-proxy') }).exposure
    })
    expect(new Set(exposures)).toEqual(new Set(['this computer', 'tls', 'proxy']))
  })

  it('names only metrics there are', async () => {
    const app = await testApp()
    const known = (await app.metrics.list()).map(({ name }) => name)
    const named = [...GUIDE.matchAll(/`(swaybook_\w+)/g)].map(([, name]) => name)
    expect(named.length).toBeGreaterThan(5)
    expect(named.filter((name) => !known.includes(name))).toEqual([])
  })

  it('names only events of the log there are', () => {
    const named = [...GUIDE.matchAll(/`([a-z-]+\.[a-z-]+)`/g)]
      .map(([, name]) => name)
      .filter((name) => !/^swaybook\.|\.yml$/.test(name))
    expect(named.length).toBeGreaterThan(10)
    expect(named.filter((name) => !Object.hasOwn(LOG_EVENTS, name))).toEqual([])
  })
})
