import { once } from 'node:events'
import { createServer } from 'node:net'
import type { AddressInfo } from 'node:net'
import { describe, expect, it, onTestFinished } from 'vitest'
import { temporaryDir } from '../helpers/build-app.ts'
import { runServer, serverProcess } from '../helpers/server-process.ts'

describe('server/main.ts', () => {
  it('prints one line with the real address, serves there, and stops cleanly on SIGTERM', async () => {
    const { child, output, exited, url } = await serverProcess(await temporaryDir())
    expect(output.out).toMatch(/^Swaybook is running at http:\/\/127\.0\.0\.1:\d+ \(Ctrl\+C stops it\)\n$/)
    expect((await fetch(`${url}/api/health`)).status).toBe(200)
    child.kill('SIGTERM')
    expect(await exited).toBe(0)
    expect(output.out.split('\n')).toHaveLength(2)
  })

  it('says that the port is in use, and what to do', async () => {
    const other = createServer().listen(0, '127.0.0.1')
    await once(other, 'listening')
    onTestFinished(() => void other.close())
    const { port } = other.address() as AddressInfo
    const { output, exited } = await runServer({ PORT: String(port), SWAYBOOK_DATA: await temporaryDir() })
    expect(await exited).toBe(1)
    expect(output.out).toBe('')
    expect(output.err).toMatch(new RegExp(`^swaybook: Port ${port} is in use.*set PORT`))
  })

  it.each([
    [{ HOST: '0.0.0.0' }, [], /HOST=0\.0\.0\.0 would let other computers in unencrypted.*--behind-proxy/],
    [{ SWAYBOOK_BEHIND_PROXY: '1' }, [], /SWAYBOOK_PUBLIC_URL is missing: set it/],
    [
      { SWAYBOOK_PUBLIC_URL: 'https://dogs.example' },
      ['--behind-proxy'],
      /owner has no password yet.*set a password/,
    ],
    [{ SWAYBOOK_PUBLIC_URL: 'https://dogs.example' }, ['--behind-proxy', '--demo'], /--demo runs only where/],
    [{ SWAYBOOK_DATA: '/dev/null/dogs' }, [], /data folder cannot be used/],
    [{ SWAYBOOK_DATA: '/proc/nope' }, [], /data folder cannot be used.*\/proc\/nope/],
    [{}, ['--demmo'], /Known options: --demo/],
  ])('refuses to start with %j %j and says why', async (env, args, reason) => {
    const { output, exited } = await runServer({ SWAYBOOK_DATA: await temporaryDir(), ...env }, args)
    expect(await exited).toBe(1)
    expect(output.err).toMatch(reason)
    expect(output.err.trim().split('\n')).toHaveLength(1)
  })
})
