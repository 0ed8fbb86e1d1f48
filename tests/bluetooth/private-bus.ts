import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { mkdtemp, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

/** A message bus of its own: its address, a folder for its neighbours, and how to end it. */
export interface PrivateBus {
  readonly address: string
  readonly folder: string
  close(): Promise<void>
}

/** The socket lies in a folder of its own, so that any number of buses run side by side. */
function configuration(socket: string): string {
  return `<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN"
  "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig>
  <type>system</type>
  <listen>unix:path=${socket}</listen>
  <auth>EXTERNAL</auth>
  <policy context="default">
    <allow own="*"/>
    <allow send_destination="*"/>
    <allow receive_sender="*"/>
  </policy>
</busconfig>
`
}

/** Starts a system bus that is nobody's but ours; resolves when it listens. */
export async function openPrivateBus(): Promise<PrivateBus> {
  const folder = await mkdtemp(join(tmpdir(), 'swaybook-bus-'))
  const file = join(folder, 'bus.conf')
  await writeFile(file, configuration(join(folder, 'socket')))
  const daemon = spawn('dbus-daemon', [`--config-file=${file}`, '--nofork', '--print-address'], {
    stdio: ['ignore', 'pipe', 'pipe'],
  })
  let errors = ''
  daemon.stderr.on('data', (chunk: Buffer) => (errors += chunk.toString()))
  const ended = once(daemon, 'exit')
  const [line] = await Promise.race([
    once(daemon.stdout, 'data'),
    ended.then(([code]) => Promise.reject(new Error(`dbus-daemon ended with ${code}: ${errors}`))),
  ])
  return {
    address: String(line).trim(),
    folder,
    async close() {
      daemon.kill('SIGTERM')
      await ended
      await rm(folder, { recursive: true, force: true })
    },
  }
}
