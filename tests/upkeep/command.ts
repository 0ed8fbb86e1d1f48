import { spawn } from 'node:child_process'
import type { ChildProcess } from 'node:child_process'
import { once } from 'node:events'
import { fileURLToPath } from 'node:url'
import { withoutSourceCondition } from '../cli/run.ts'

const bin = fileURLToPath(new URL('../../server/bin.mjs', import.meta.url))

export interface CommandOutcome {
  readonly code: number | null
  readonly out: string
  readonly err: string
}

export interface RunningCommand {
  readonly child: ChildProcess
  readonly ended: Promise<CommandOutcome>
}

/** `npx swaybook …` as a process of its own. */
export function startCommand(...args: string[]): RunningCommand {
  return startCommandWith({}, ...args)
}

/** The same with more in its environment. */
export function startCommandWith(env: Readonly<Record<string, string>>, ...args: string[]): RunningCommand {
  const child = spawn(process.execPath, [bin, ...args], { env: { ...withoutSourceCondition(), ...env } })
  let [out, err] = ['', '']
  child.stdout.on('data', (piece: Buffer) => (out += piece.toString()))
  child.stderr.on('data', (piece: Buffer) => (err += piece.toString()))
  const ended = once(child, 'close').then(([code]) => ({ code: code as number | null, out, err }))
  return { child, ended }
}

export function swaybook(...args: string[]): Promise<CommandOutcome> {
  return startCommand(...args).ended
}

/** The first call of the command builds what changed, which takes a while. */
export async function commandIsBuilt(): Promise<void> {
  const { code, err } = await swaybook('--version')
  if (code !== 0) throw new Error(`swaybook --version ended with ${code}: ${err}`)
}
