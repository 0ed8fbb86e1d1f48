/**
 * Gets a checkout ready to run with nothing but Node and npm: installs the locked packages when
 * they are missing or others, and builds when the sources changed. Plain JavaScript on built-ins
 * only, since it runs before anything is installed. Says what it does on standard error.
 */
import { spawnSync } from 'node:child_process'
import { createHash } from 'node:crypto'
import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'

export const root = join(dirname(fileURLToPath(import.meta.url)), '..')

const OLDEST_NODE = [20, 19]
const INSTALL_STAMP = join(root, 'node_modules', '.swaybook-installed')
const SERVER_SOURCES = ['signal', 'server', 'tsconfig.base.json', 'tsconfig.build.json', 'package.json']
const DASHBOARD_SOURCES = ['signal', 'server/protocol', 'dashboard', 'package.json']

/** Installs and builds what is missing; ends the process with a clear message when that fails. */
export function prepare({ dashboard }) {
  checkNode()
  install()
  if (dashboard && !addonLoads()) installPackages()
  const lock = readFileSync(join(root, 'package-lock.json'))
  build('server', SERVER_SOURCES, lock, ['node_modules/typescript/bin/tsc', '-p', 'tsconfig.build.json'])
  if (dashboard) {
    build('dashboard', DASHBOARD_SOURCES, lock, [
      'node_modules/vite/bin/vite.js',
      'build',
      'dashboard',
      '--logLevel',
      'warn',
    ])
  }
}

/** Installs the locked packages unless exactly those are there. */
export function install() {
  const lock = readFileSync(join(root, 'package-lock.json'))
  const wanted = createHash('sha256').update(lock).update(process.version.split('.')[0]).digest('hex')
  if (existsSync(INSTALL_STAMP) && readFileSync(INSTALL_STAMP, 'utf8') === wanted) return
  if (!hasLockedPackages(lock)) installPackages()
  writeFileSync(INSTALL_STAMP, wanted)
}

function installPackages() {
  say('Installing packages (once; a minute or two) …')
  const npm = process.env.npm_execpath
  const args = ['ci', '--include=dev', '--no-audit', '--no-fund', '--loglevel=error']
  const [command, ...rest] = npm ? [process.execPath, npm, ...args] : ['npm', ...args]
  run(command, rest, 'The packages could not be installed', !npm && process.platform === 'win32')
}

function hasLockedPackages(lock) {
  const installedFile = join(root, 'node_modules', '.package-lock.json')
  if (!existsSync(installedFile)) return false
  const installed = JSON.parse(readFileSync(installedFile, 'utf8')).packages
  const wanted = Object.entries(JSON.parse(lock).packages).filter(([path]) => path !== '')
  return wanted.every(([path, entry]) => entry.optional || installed[path]?.version === entry.version)
}

/**
 * SQLite's addon is compiled for one version of Node: packages that were installed with another have to be again. Asked
 * where a server starts; a command that needs the addon and has it not says so.
 */
function addonLoads() {
  try {
    const Database = createRequire(join(root, 'package.json'))('better-sqlite3')
    new Database(':memory:').close()
    return true
  } catch (error) {
    say(
      `SQLite's addon does not load with this Node ${process.version} (${error.message.split('\n', 1)[0]}).`,
    )
    return false
  }
}

function build(part, sources, lock, args) {
  const stampFile = join(root, 'dist', `.${part}-built`)
  const wanted = fingerprint(sources, lock)
  if (existsSync(stampFile) && readFileSync(stampFile, 'utf8') === wanted) return
  say(`Building the ${part} …`)
  run(process.execPath, args, `The ${part} could not be built`)
  mkdirSync(join(root, 'dist'), { recursive: true })
  writeFileSync(stampFile, wanted)
}

function fingerprint(sources, lock) {
  const hash = createHash('sha256').update(lock)
  const visit = (path) => {
    const full = join(root, path)
    const entries = readdirSync(full, { withFileTypes: true }).sort((a, b) => (a.name < b.name ? -1 : 1))
    for (const entry of entries) {
      if (entry.isDirectory()) visit(`${path}/${entry.name}`)
      else hash.update(`${path}/${entry.name}\0`).update(readFileSync(join(full, entry.name)))
    }
  }
  for (const source of sources) {
    if (/\.[a-z]+$/.test(source)) hash.update(readFileSync(join(root, source)))
    else visit(source)
  }
  return hash.digest('hex')
}

function checkNode() {
  const [major, minor] = process.versions.node.split('.').map(Number)
  if (major > OLDEST_NODE[0] || (major === OLDEST_NODE[0] && minor >= OLDEST_NODE[1])) return
  fail(
    `Swaybook needs Node ${OLDEST_NODE.join('.')} or newer; this is ${process.version}. Install a newer Node and try again.`,
  )
}

/** Output goes to standard error: standard output belongs to the command that was asked for. */
function run(command, args, failure, shell = false) {
  const result = spawnSync(command, args, { cwd: root, stdio: ['ignore', 2, 2], shell })
  if (result.error) fail(`${failure}: ${result.error.message}`)
  if (result.status !== 0) fail(`${failure}; see the messages above.`)
}

function say(text) {
  process.stderr.write(`${text}\n`)
}

function fail(text) {
  say(text)
  process.exit(1)
}
