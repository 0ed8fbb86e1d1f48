import { readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { expect, it } from 'vitest'
import { testApp } from '../helpers/build-app.ts'
import { run } from '../cli/run.ts'

const GUIDE = readFileSync(fileURLToPath(new URL('../../server/OPERATING.md', import.meta.url)), 'utf8')
const COMMANDS = [...GUIDE.matchAll(/^npx swaybook (.+)$/gm)].map(([, words]) => words)

it('names commands', () => {
  expect(new Set(COMMANDS.map((words) => words.split(' ')[0]))).toEqual(
    new Set(['backup', 'restore', 'verify', 'migrate', 'reanalyse']),
  )
})

it.each(COMMANDS)('npx swaybook %s: the command and its options exist', async (words) => {
  const [command, ...rest] = words.split(' ')
  const help = await run(command, '--help')
  expect(help.code).toBe(0)
  const options = rest.filter((word) => word.startsWith('--'))
  for (const option of options) expect(help.out).toMatch(new RegExp(`^  ${option}\\b`, 'm'))
  // The options are read as well, and one that is not there is not.
  expect((await run(command, ...rest, '--help')).code).toBe(0)
  expect((await run(command, ...rest, '--no-such-option')).code).toBe(2)
})

it('names only metrics there are', async () => {
  const app = await testApp()
  const known = (await app.metrics.list()).map(({ name }) => name)
  const named = [...GUIDE.matchAll(/`(swaybook_\w+)/g)].map(([, name]) => name)
  expect(named.filter((name) => !known.includes(name))).toEqual([])
})
