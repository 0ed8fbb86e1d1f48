import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { fileURLToPath } from 'node:url'
import { onTestFinished } from 'vitest'

const ROOT = fileURLToPath(new URL('../..', import.meta.url))

/** The server as a process of its own, killed when the test ends. */
export async function runServer(env: Record<string, string>, args: readonly string[] = []) {
  const child = spawn(
    process.execPath,
    ['--conditions=source', '--import', 'tsx', `${ROOT}server/main.ts`, ...args],
    { cwd: ROOT, env: { PATH: process.env.PATH, PORT: '0', ...env } },
  )
  onTestFinished(() => void child.kill('SIGKILL'))
  const output = { out: '', err: '' }
  child.stdout.on('data', (data) => (output.out += data))
  child.stderr.on('data', (data) => (output.err += data))
  const exited = once(child, 'exit').then(([code]) => code as number | null)
  return { child, output, exited }
}

/** A server process that is ready at `url`, on a free port unless one is given. */
export async function serverProcess(dataDir: string, port = '0') {
  const server = await runServer({ SWAYBOOK_DATA: dataDir, PORT: port })
  const url = await new Promise<string>((resolve, reject) => {
    server.child.stdout.on('data', () => {
      const address = /http:\S+/.exec(server.output.out)
      if (address) resolve(address[0])
    })
    void server.exited.then(() => reject(new Error(`the server ended: ${server.output.err}`)))
  })
  return { ...server, url }
}
