import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { describe, expect, it } from 'vitest'
import { importViolations } from './import-rules.ts'
import type { SourceFile } from './import-rules.ts'
import { readImports } from './read-imports.ts'

const ROOT = fileURLToPath(new URL('../..', import.meta.url))
const FOLDERS = ['signal', 'server', 'dashboard', 'tests', 'sample-traces']
const manifest = JSON.parse(readFileSync(join(ROOT, 'package.json'), 'utf8'))
const packages = {
  dependencies: new Set(Object.keys(manifest.dependencies)),
  devDependencies: new Set(Object.keys(manifest.devDependencies)),
}

function sourceFiles(): SourceFile[] {
  const paths = FOLDERS.flatMap((folder) =>
    readdirSync(join(ROOT, folder), { recursive: true, encoding: 'utf8' })
      .filter((name) => /\.(ts|svelte|mjs|js)$/.test(name) && !name.includes('node_modules'))
      .map((name) => `${folder}/${name.replaceAll('\\', '/')}`),
  )
  return paths.map((path) => ({ path, imports: readImports(path, readFileSync(join(ROOT, path), 'utf8')) }))
}

describe('imports of the tree', () => {
  const files = sourceFiles()

  it('are read from every folder, Svelte components included', () => {
    for (const start of ['signal/', 'server/protocol/', 'dashboard/', 'tests/']) {
      expect(files.filter(({ path }) => path.startsWith(start)).length, start).toBeGreaterThan(2)
    }
    const svelte = files.filter(({ path, imports }) => path.endsWith('.svelte') && imports.length > 0)
    expect(svelte.length).toBeGreaterThan(10)
    expect(files.reduce((sum, { imports }) => sum + imports.length, 0)).toBeGreaterThan(500)
  })

  it('point the right way', () => {
    expect(importViolations(files, packages)).toEqual([])
  })
})

describe('readImports', () => {
  it('sees every form of import and whether it leaves anything behind', () => {
    const text = [
      "import a from 'a'",
      "import type { B } from 'b'",
      "import { type C, type D } from 'c'",
      "import { type E, f } from 'd'",
      "import 'e'",
      "export { g } from 'f'",
      "export type { H } from 'g'",
      "export * from 'h'",
      "const i = await import('i')",
      "type J = import('j').J",
      "// import 'not'",
      `const text = "import 'neither'"`,
      "const k = require('k')",
      "import * as l from 'l'",
    ].join('\n')
    const seen = readImports('x.ts', text).map(({ specifier, typeOnly, line }) => [specifier, typeOnly, line])
    expect(seen).toEqual([
      ['a', false, 1],
      ['b', true, 2],
      ['c', true, 3],
      ['d', false, 4],
      ['e', false, 5],
      ['f', false, 6],
      ['g', true, 7],
      ['h', false, 8],
      ['i', false, 9],
      ['j', true, 10],
      ['k', false, 13],
      ['l', false, 14],
    ])
  })

  it('reads the scripts of a Svelte component only, with the lines of the file', () => {
    const text = `<script module lang="ts">\n  import { a } from 'a'\n</script>\n<p>import 'b'</p>\n<script lang="ts">\n  import type { C } from 'c'\n</script>\n`
    expect(readImports('X.svelte', text)).toEqual([
      { specifier: 'a', typeOnly: false, line: 2 },
      { specifier: 'c', typeOnly: true, line: 6 },
    ])
  })
})

describe('importViolations', () => {
  const made = (path: string, text: string): SourceFile => ({ path, imports: readImports(path, text) })
  const messages = made('server/protocol/messages.ts', "import { Type } from 'typebox'")
  const shapes = made('server/protocol/shapes.ts', "export { A } from './messages.ts'")
  const frames = made('server/protocol/frames.ts', "import type { Trace } from '#signal/trace/trace'")
  const check = (path: string, text: string) =>
    importViolations([messages, shapes, frames, made(path, text)], {
      dependencies: new Set(['typebox', 'fastify', 'fft.js', 'simple-statistics']),
      devDependencies: new Set(['svelte', 'vitest', 'tsx']),
    })

  it.each([
    ['signal/a/b.ts', "import { fft } from '../spectrum/fft.ts'"],
    ['signal/a/b.ts', "import { median } from 'simple-statistics'"],
    ['signal/spectrum/fft.ts', "import FFT from 'fft.js'"],
    [
      'server/a/b.ts',
      "import { x } from '#signal/report'; import { y } from '../c.ts'; import fastify from 'fastify'",
    ],
    ['server/a/b.ts', "import { Dog } from '#protocol/messages'; import { join } from 'node:path'"],
    ['server/a.ts', "import type { T } from 'vitest'; import { x } from '#server/store/store'"],
    ['server/start.mjs', "await import('../dist/server/main.js')"],
    ['server/analysis/thread-from-source.mjs', "import { register } from 'tsx/esm/api'"],
    [
      'server/protocol/x.ts',
      "import { Type } from 'typebox/compile'; import type { T } from '#signal/report-types'",
    ],
    [
      'dashboard/lib/a.ts',
      "import { x } from './b.ts'; import { y } from '#signal/constants'; import { z } from 'svelte'",
    ],
    [
      'dashboard/lib/a.ts',
      "import type { Dog } from '#protocol/messages'; import { frame } from '#protocol/frames'",
    ],
    [
      'tests/a/b.test.ts',
      "import { x } from '../c.ts'; import { y } from '#server/app'; import { it } from 'vitest'",
    ],
    ['dashboard/lib/a.ts', "import 'uplot/dist/a.css'".replace('uplot', 'svelte')],
  ])('allows in %s: %s', (path, text) => {
    expect(check(path, text)).toEqual([])
  })

  it.each([
    ['signal/a/b.ts', "import { x } from '#signal/report'", 'by relative paths'],
    ['signal/a/b.ts', "import { x } from '../../server/config.ts'", 'signal/ imports signal/ only'],
    ['signal/a/b.ts', "import type { X } from '#protocol/messages'", 'signal/ imports signal/ only'],
    ['signal/a/b.ts', "import { join } from 'node:path'", 'does not know Node'],
    ['signal/a/b.ts', "import { x } from 'typebox'", 'no package for signal/'],
    ['server/a/b.ts', "import { x } from '../../dashboard/lib/x.ts'", 'server/ imports'],
    ['server/a/b.ts', "import { x } from '../../signal/report.ts'", 'server/ imports'],
    ['server/a/b.ts', "import { x } from '../../tests/x.ts'", 'nothing but tests imports tests'],
    [
      'server/a/b.ts',
      "const x = await import('../../dist/server/main.js')",
      'nothing imports what was built',
    ],
    ['server/other.mjs', "await import('../dist/server/main.js')", 'nothing imports what was built'],
    ['server/a/b.ts', "import { x } from 'svelte'", 'not among the dependencies'],
    ['server/a/b.ts', "import { x } from 'express'", 'not among the dependencies'],
    ['server/a/b.ts', "import { join } from 'path'", 'with node:'],
    ['server/protocol/x.ts', "import { x } from '#signal/constants'", 'types of #signal/* only'],
    ['server/protocol/x.ts', "import type { X } from '../config.ts'", 'types of #signal/* only'],
    ['server/protocol/x.ts', "import { x } from 'node:buffer'", 'does not know Node'],
    ['server/protocol/x.ts', "import { x } from 'fastify'", 'no package for protocol/ but typebox'],
    ['dashboard/lib/a.ts', "import { Dog } from '#protocol/messages'", 'TypeBox into the page'],
    ['dashboard/lib/a.ts', "import { A } from '#protocol/shapes'", 'TypeBox into the page'],
    ['dashboard/lib/a.ts', "import { Type } from 'typebox'", 'TypeBox stays out'],
    ['dashboard/App.svelte', "<script>import { x } from '#server/config'</script>", 'dashboard/ imports'],
    ['dashboard/lib/a.ts', "import { x } from '../../signal/report.ts'", 'dashboard/ imports'],
    ['dashboard/lib/a.ts', "import { readFile } from 'node:fs'", 'does not know Node'],
    ['dashboard/lib/a.ts', "import x from 'react'", 'not in package.json'],
    ['tests/a.test.ts', "import x from '../dist/signal/report.js'", 'what was built'],
    ['tests/a.test.ts', "import x from '../../elsewhere.ts'", 'outside the tree'],
  ])('refuses in %s: %s', (path, text, why) => {
    const found = check(path, text)
    expect(found.join('\n')).toContain(why)
    expect(found[0]).toContain(`${path}:1 imports`)
  })

  it('refuses a second module that knows fft.js', () => {
    const files = ['signal/a.ts', 'signal/b.ts'].map((path) => made(path, "import FFT from 'fft.js'"))
    const found = importViolations(files, { dependencies: new Set(['fft.js']), devDependencies: new Set() })
    expect(found).toEqual(['fft.js is imported by signal/a.ts and signal/b.ts; one module may know it'])
  })
})
