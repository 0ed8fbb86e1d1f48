import { isBuiltin } from 'node:module'
import { posix } from 'node:path'
import type { Import } from './read-imports.ts'

/** A file of the tree, path relative to its root with forward slashes. */
export interface SourceFile {
  readonly path: string
  readonly imports: readonly Import[]
}

export interface Packages {
  readonly dependencies: ReadonlySet<string>
  readonly devDependencies: ReadonlySet<string>
}

/** What signal/ may import besides itself. */
const SIGNAL_PACKAGES = new Set(['fft.js', 'simple-statistics'])
/** Packages that one module alone may know. */
const ONE_MODULE_ONLY = ['fft.js']
const SUBPATHS: Readonly<Record<string, string>> = {
  '#signal/': 'signal/',
  '#protocol/': 'server/protocol/',
  '#server/': 'server/',
}
/** Only run in the development tree, where all packages are installed. */
const DEVELOPMENT_ONLY = new Set(['server/analysis/thread-from-source.mjs', 'dashboard/vite.config.ts'])
/** Start the built program: the only files that may know where it lies. */
const LAUNCHERS = new Set(['server/bin.mjs', 'server/start.mjs'])

/** Sentences naming every import that points the wrong way; empty when all is well. */
export function importViolations(files: readonly SourceFile[], packages: Packages): string[] {
  const heavy = modulesWithTypebox(files)
  const found = files.flatMap((file) =>
    file.imports.flatMap((one) =>
      problemsOf(file.path, one, packages, heavy).map((problem) => `${file.path}:${one.line} ${problem}`),
    ),
  )
  for (const name of ONE_MODULE_ONLY) {
    const users = files.filter(({ imports }) =>
      imports.some(({ specifier }) => packageOf(specifier) === name),
    )
    const inProduct = users.filter(({ path }) => !path.startsWith('tests/'))
    if (inProduct.length > 1) {
      found.push(
        `${name} is imported by ${inProduct.map(({ path }) => path).join(' and ')}; one module may know it`,
      )
    }
  }
  return found
}

function problemsOf(path: string, one: Import, packages: Packages, heavy: ReadonlySet<string>): string[] {
  const { specifier, typeOnly } = one
  const target = targetOf(path, specifier)
  const part = partOf(path)
  const problems: string[] = []
  const forbid = (condition: boolean, why: string) => {
    if (condition) problems.push(`imports ${specifier}: ${why}`)
  }
  if (target !== null) {
    if (LAUNCHERS.has(path) && target.startsWith('dist/server/')) return []
    const isSubpath = specifier.startsWith('#')
    forbid(/^(\.\.\/|\/)/.test(target), 'outside the tree')
    forbid(target.startsWith('dist/'), 'nothing imports what was built')
    forbid(target.startsWith('tests/') && part !== 'tests', 'nothing but tests imports tests')
    const to = partOf(target)
    if (part === 'signal') {
      forbid(isSubpath || to !== 'signal', 'signal/ imports signal/ only, by relative paths')
    } else if (part === 'protocol') {
      const isOwn = to === 'protocol' && !isSubpath
      forbid(
        !isOwn && !(typeOnly && isSubpath && to === 'signal'),
        'protocol/ imports types of #signal/* only',
      )
    } else if (part === 'server') {
      const isRight = to === 'server' || (isSubpath && (to === 'signal' || to === 'protocol'))
      forbid(!isRight, 'server/ imports #signal/*, #protocol/* and its own files')
    } else if (part === 'dashboard') {
      const isRight = isSubpath ? to === 'signal' || to === 'protocol' : to === 'dashboard'
      forbid(!isRight, 'dashboard/ imports #signal/*, #protocol/* and its own files by relative paths')
      forbid(heavy.has(target) && !typeOnly, 'would bring TypeBox into the page; import its types only')
    }
    return problems
  }
  const name = packageOf(specifier)
  if (isBuiltin(specifier)) {
    forbid(!specifier.startsWith('node:'), 'name modules of Node with node:')
    const isFree = part === 'server' || part === 'tests' || part === 'other' || DEVELOPMENT_ONLY.has(path)
    forbid(!isFree, `${part}/ does not know Node`)
    return problems
  }
  forbid(
    part === 'signal' && !SIGNAL_PACKAGES.has(name),
    'no package for signal/ but fft.js and simple-statistics',
  )
  forbid(part === 'protocol' && name !== 'typebox', 'no package for protocol/ but typebox')
  forbid(part === 'dashboard' && name === 'typebox' && !typeOnly, 'TypeBox stays out of the page')
  const isRuntime =
    (part === 'server' || part === 'signal' || part === 'protocol') && !DEVELOPMENT_ONLY.has(path)
  const known =
    packages.dependencies.has(name) || (!(isRuntime && !typeOnly) && packages.devDependencies.has(name))
  forbid(!known, isRuntime ? 'not among the dependencies of package.json' : 'not in package.json')
  return problems
}

/** The file an import of ours points to, with `.ts` for subpaths; null for packages and Node. */
function targetOf(path: string, specifier: string): string | null {
  if (specifier.startsWith('.')) return posix.normalize(posix.join(posix.dirname(path), specifier))
  if (specifier.startsWith('/')) return specifier
  for (const [prefix, folder] of Object.entries(SUBPATHS)) {
    if (specifier.startsWith(prefix)) return `${folder}${specifier.slice(prefix.length)}.ts`
  }
  return null
}

function partOf(path: string): 'signal' | 'protocol' | 'server' | 'dashboard' | 'tests' | 'other' {
  if (path.startsWith('server/protocol/')) return 'protocol'
  const [top] = path.split('/')
  return top === 'signal' || top === 'server' || top === 'dashboard' || top === 'tests' ? top : 'other'
}

function packageOf(specifier: string): string {
  const parts = specifier.split('/')
  return specifier.startsWith('@') ? parts.slice(0, 2).join('/') : parts[0]
}

/** The protocol modules whose values need TypeBox, directly or through another. */
function modulesWithTypebox(files: readonly SourceFile[]): Set<string> {
  const protocol = files.filter(({ path }) => partOf(path) === 'protocol')
  const heavy = new Set<string>()
  for (let size = -1; size < heavy.size;) {
    size = heavy.size
    for (const { path, imports } of protocol) {
      const values = imports.filter(({ typeOnly }) => !typeOnly)
      const needs = ({ specifier }: Import) =>
        packageOf(specifier) === 'typebox' || heavy.has(targetOf(path, specifier) ?? '')
      if (values.some(needs)) heavy.add(path)
    }
  }
  return heavy
}
