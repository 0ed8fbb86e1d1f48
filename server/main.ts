import type { AddressInfo } from 'node:net'
import { parseArgs } from 'node:util'
import { buildApp } from './app.ts'
import type { App } from './app.ts'
import { ConfigError, loadConfig } from './config.ts'
import type { Config } from './config.ts'
import { DataFolderError } from './store/data-folder.ts'

/** Longest graceful shutdown before the process ends anyway, ms. */
const SHUTDOWN_MS = 10_000

/** Runs the server until a signal. The only file that reads the environment, listens and exits. */
async function main(): Promise<void> {
  const { values } = parseArgs({ options: { demo: { type: 'boolean', default: false } } })
  const config = loadConfig({ env: process.env, platform: process.platform })
  const app = await buildApp(config)
  stopOnSignals(app)
  await app.listen({ host: config.host, port: config.port, listenTextResolver: () => 'listening' })
  const url = addressOf(app, config)
  process.stdout.write(`Swaybook is running at ${url} (Ctrl+C stops it)\n`)
  if (values.demo) {
    const response = await fetch(`${url}/api/demo`, { method: 'POST' })
    if (!response.ok) app.log.error({ status: response.status }, 'the demo did not start')
  }
}

function addressOf(app: App, config: Config): string {
  const { port } = app.server.address() as AddressInfo
  return `http://${config.host.includes(':') ? `[${config.host}]` : config.host}:${port}`
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
        app.log.fatal({ err: error }, 'shutdown failed')
        process.exit(1)
      })
    })
  }
}

/** What a person can act on; anything else is a defect and shows its stack. */
function startProblem(error: unknown): string {
  const { code, message, stack, syscall } = error as NodeJS.ErrnoException
  if (error instanceof ConfigError || error instanceof DataFolderError) return message
  if (code === 'EADDRINUSE') {
    return `Port ${process.env.PORT || 4173} is in use, perhaps by another Swaybook. Stop it, or set PORT to another number.`
  }
  if (code === 'EACCES' && syscall === 'listen') {
    return `Port ${process.env.PORT} may not be used by this account. Set PORT to a number from 1024 on, or to 0.`
  }
  if (/^SQLITE_(CANTOPEN|READONLY|NOTADB|FULL|IOERR)/.test(code ?? '')) {
    return `The data folder cannot be used: ${message}. Set SWAYBOOK_DATA to a folder you may write to.`
  }
  if (code?.startsWith('ERR_PARSE_ARGS')) return `${message} Known options: --demo`
  return stack ?? String(error)
}

main().catch((error: unknown) => {
  process.stderr.write(`swaybook: ${startProblem(error)}\n`)
  process.exit(1)
})
