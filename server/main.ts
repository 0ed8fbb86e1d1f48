import type { AddressInfo } from 'node:net'
import { parseArgs } from 'node:util'
import { buildApp } from './app.ts'
import type { App } from './app.ts'
import { ConfigError, loadConfig } from './config.ts'
import type { Config } from './config.ts'
import { setFirstPassword } from './people/first-password.ts'
import { PassOfDemo } from './people/pass-of-demo.ts'
import { requireOwnerPassword } from './exposure/owner-password.ts'
import { DataFolderError } from './store/data-folder.ts'
import { TLS_PROTOCOL } from './exposure/tls-protocol.ts'
import { tell } from './log/tell.ts'
import { UpkeepError } from './upkeep/upkeep-error.ts'

/** Longest graceful shutdown before the process ends anyway, ms. */
const SHUTDOWN_MS = 10_000

/** Files and folders this process makes are for its own account. */
const OWN_ONLY = 0o077

/** Runs the server until a signal. The only file that reads the environment, listens and exits. */
async function main(): Promise<void> {
  process.umask(OWN_ONLY)
  const { values } = parseArgs({
    options: {
      demo: { type: 'boolean', default: false },
      'behind-proxy': { type: 'boolean', default: false },
    },
  })
  const behindProxy = values['behind-proxy']
  const config = loadConfig({ env: process.env, platform: process.platform, behindProxy })
  if (values.demo && config.exposure !== 'this computer') {
    throw new ConfigError(
      '--demo runs only where nobody else gets in. Leave it out, or HOST, TLS and the proxy.',
    )
  }
  const app = await buildApp(config)
  await setFirstPassword(config.ownerPasswordFile, app.store.people, app.log)
  await requireOwnerPassword(config.exposure, app.store.people)
  stopOnSignals(app)
  // Without a certificate the signal keeps its usual meaning: the terminal is gone.
  if (config.tlsFiles) process.on('SIGHUP', () => app.renewCertificate())
  await app.listen({ host: config.host, port: config.port, listenTextResolver: () => 'listening' })
  const url = addressOf(app, config)
  tellReach(app, config)
  process.stdout.write(`Swaybook is running at ${placeOf(url, config)} (Ctrl+C stops it)\n`)
  if (values.demo) {
    const keeper = await app.store.people.keeper()
    const pass = new PassOfDemo(app, () => keeper.id)
    const headers = { cookie: await pass.open() }
    const response = await fetch(`${url}/api/demo`, { method: 'POST', headers })
    await pass.close()
    if (!response.ok) tell(app.log, 'demo.not-started', { status: response.status })
  }
}

function tellReach(app: App, { exposure, host, tlsFiles, publicOrigins }: Config): void {
  const { port } = app.server.address() as AddressInfo
  const tls = tlsFiles ? `${TLS_PROTOCOL.minVersion} or newer` : null
  tell(app.log, 'server.listening', { exposure, host, port, origins: publicOrigins, tls })
}

/** What people open, and where a proxy has to send it. */
function placeOf(url: string, { exposure, publicOrigins }: Config): string {
  if (exposure === 'this computer') return url
  return exposure === 'tls' ? publicOrigins[0] : `${publicOrigins[0]}, behind a proxy that calls ${url}`
}

function addressOf(app: App, config: Config): string {
  const { port } = app.server.address() as AddressInfo
  return `${config.tlsFiles ? 'https' : 'http'}://${config.host.includes(':') ? `[${config.host}]` : config.host}:${port}`
}

function stopOnSignals(app: App): void {
  let stopping = false
  const stop = async () => {
    // A second Ctrl+C does not wait.
    if (stopping) process.exit(1)
    stopping = true
    setTimeout(() => process.exit(1), SHUTDOWN_MS).unref()
    await app.close()
    process.exit(0)
  }
  for (const signal of ['SIGINT', 'SIGTERM'] as const) {
    process.on(signal, () => {
      stop().catch((error: unknown) => {
        tell(app.log, 'server.not-stopped', { err: error })
        process.exit(1)
      })
    })
  }
}

/** What a person can act on; anything else is a defect and shows its stack. */
function startProblem(error: unknown): string {
  const { code, message, stack, syscall } = error as NodeJS.ErrnoException
  if (error instanceof ConfigError || error instanceof DataFolderError || error instanceof UpkeepError) {
    return message
  }
  if (code === 'EADDRINUSE') {
    return `Port ${process.env.PORT || 4173} is in use, perhaps by another Swaybook. Stop it, or set PORT to another number.`
  }
  if (code === 'EACCES' && syscall === 'listen') {
    return `Port ${process.env.PORT} may not be used by this account. Set PORT to a number from 1024 on, or to 0.`
  }
  if (/^SQLITE_(CANTOPEN|READONLY|NOTADB|FULL|IOERR)/.test(code ?? '')) {
    return `The data folder cannot be used: ${message}. Set SWAYBOOK_DATA to a folder you may write to.`
  }
  if (code?.startsWith('ERR_PARSE_ARGS')) return `${message} Known options: --demo, --behind-proxy`
  return stack ?? String(error)
}

main().catch((error: unknown) => {
  process.stderr.write(`swaybook: ${startProblem(error)}\n`)
  process.exit(1)
})
