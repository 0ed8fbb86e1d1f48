import { spawnSync } from 'node:child_process'
import { fileURLToPath } from 'node:url'
import { vi } from 'vitest'
import { main } from '#server/cli/main'

export const projectRoot = fileURLToPath(new URL('../..', import.meta.url))
const bin = fileURLToPath(new URL('../../server/bin.mjs', import.meta.url))

export interface Outcome {
  readonly code: number | null
  readonly out: string
  readonly err: string
}

/** The command line inside this process; what it prints is caught. */
export async function run(...args: string[]): Promise<Outcome> {
  let out = ''
  let err = ''
  const stdout = vi.spyOn(process.stdout, 'write').mockImplementation((text) => ((out += String(text)), true))
  const stderr = vi.spyOn(process.stderr, 'write').mockImplementation((text) => ((err += String(text)), true))
  try {
    const code = await main(args)
    return { code, out, err }
  } finally {
    stdout.mockRestore()
    stderr.mockRestore()
  }
}

/** The command line as a process of its own. */
export function spawnBin(args: readonly string[], options: { cwd?: string; input?: string } = {}): Outcome {
  const { status, stdout, stderr } = spawnSync(process.execPath, [bin, ...args], {
    cwd: options.cwd ?? projectRoot,
    input: options.input ?? '',
    encoding: 'utf8',
    env: withoutSourceCondition(),
  })
  return { code: status, out: stdout, err: stderr }
}

/** The condition that lets tests import TypeScript must not reach the built program. */
export function withoutSourceCondition(): NodeJS.ProcessEnv {
  const env = { ...process.env }
  delete env.NODE_OPTIONS
  return env
}
