import { resolve } from 'node:path'
import { parseArgs } from 'node:util'
import type { ParseArgsConfig } from 'node:util'
import { dataFolder } from '../config.ts'
import { UsageError } from './usage-error.ts'

/** What a command on stored data is told about where it runs. */
export interface CommandContext {
  readonly env: Readonly<Record<string, string | undefined>>
  readonly platform: string
}

type Options = NonNullable<ParseArgsConfig['options']>

/** The options that every command on stored data takes. */
export const DATA_OPTIONS = {
  data: { type: 'string' },
  help: { type: 'boolean', short: 'h' },
} as const satisfies Options

/**
 * The arguments of a command on stored data.
 * @throws {UsageError} for an option there is not
 */
export function storedDataArguments<const T extends Options>(args: readonly string[], options: T) {
  try {
    return parseArgs({
      args: [...args],
      options: { ...DATA_OPTIONS, ...options },
      allowPositionals: true,
    })
  } catch (error) {
    // Node's own messages on arguments run over several lines.
    throw new UsageError((error as Error).message.replace(/\s*\n\s*/g, ' '), { cause: error })
  }
}

/** @throws {UsageError} where the data is said to be kept in memory */
export function dataFolderOf(data: string | undefined, { env, platform }: CommandContext): string {
  if (data === '') throw new UsageError('--data needs a folder')
  const dir = data === undefined ? dataFolder({ env, platform }) : resolve(data)
  if (dir === ':memory:')
    throw new UsageError('SWAYBOOK_DATA=:memory: keeps nothing; name a folder with --data')
  return dir
}

/** @throws {UsageError} unless there is exactly one of what `what` names */
export function onlyPositional(command: string, what: string, positionals: readonly string[]): string {
  if (positionals.length === 1 && positionals[0] !== '') return positionals[0]
  throw new UsageError(
    `${command} takes one ${what}, got ${positionals.length}; swaybook ${command} --help shows how`,
  )
}

/** @throws {UsageError} when something is there */
export function noPositionals(command: string, positionals: readonly string[]): void {
  if (positionals.length === 0) return
  throw new UsageError(
    `${command} does not know what to do with "${positionals[0]}"; swaybook ${command} --help shows how`,
  )
}
