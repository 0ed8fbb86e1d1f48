import { readdirSync, readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { expect, it } from 'vitest'

const root = fileURLToPath(new URL('../..', import.meta.url))

/** Files of a folder that hold one of the words, with the words. */
function holding(folder: string, words: RegExp): string[] {
  const names = readdirSync(`${root}${folder}`, { recursive: true, encoding: 'utf8' })
  const sources = names.filter((name) => /\.(ts|svelte)$/.test(name) && !/node_modules/.test(name))
  expect(sources.length).toBeGreaterThan(20)
  return sources.flatMap((name) => {
    const found = readFileSync(`${root}${folder}/${name}`, 'utf8').match(words)
    return found ? [`${folder}/${name}: ${found[0]}`] : []
  })
}

it('the server starts no program and compiles no text', () => {
  const words =
    /child_process|\beval\(|new Function\b|from '(node:)?vm'|new RegExp\((?!['"`/])|rejectUnauthorized|NODE_TLS_REJECT/
  expect(holding('server', words)).toEqual([])
})

it('the server calls nobody but itself, for the demo, and the store it was configured with', () => {
  const callers = holding('server', /\bfetch\(|^import (?!type )[^\n]*from '((node:)?https?|ws|undici)'/m)
  const named = callers.map((line) => line.slice(0, line.indexOf(':')))
  const known =
    /^server\/(demo\/|main\.ts|store\/influx\/|exposure\/http-server\.ts|plugins\/certificate\.ts|live\/|export\/)/
  expect(named.filter((name) => !known.test(name))).toEqual([])
})

it('secrets come from the generator of the system: the other is for the demo and for waiting', () => {
  const named = holding('server', /Math\.random/).map((line) => line.slice(0, line.indexOf(':')))
  const known = ['server/demo/harness.ts', 'server/store/influx/availability.ts']
  expect(named.filter((name) => !known.includes(name))).toEqual([])
})

it('the server turns no check of certificates off', () => {
  expect(holding('server', /rejectUnauthorized|NODE_TLS_REJECT|checkServerIdentity|secureOptions/)).toEqual(
    [],
  )
})

it('fields for passwords are masked, may be filled in and pasted into, and show what was typed only on request', () => {
  const fields = holding('dashboard', /type="password"|\? 'text' : 'password'/)
  expect(fields.length).toBeGreaterThan(3)
  const files = fields.map((line) => line.slice(0, line.indexOf(':')))
  for (const file of files) {
    const source = readFileSync(root + file, 'utf8')
    const masked = source.split(/type="password"|\? 'text' : 'password'/).length - 1
    const filled = source.split(/autocomplete="(?:current|new)-password"/).length - 1
    expect([file, filled]).toEqual([file, masked])
  }
  expect(holding('dashboard', /onpaste/)).toEqual([])
})

it('no screen writes markup from text or runs any', () => {
  const words = /\{@html|innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function\b/
  expect(holding('dashboard', words)).toEqual([])
})
