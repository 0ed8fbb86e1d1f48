import { readFileSync, statSync } from 'node:fs'
import { ConfigError } from './config-error.ts'

type Env = Readonly<Record<string, string | undefined>>

/**
 * The secret that a setting gives, or the file that `<name>_FILE` names: in the environment a secret shows in lists of
 * processes and in crash reports, in a file it has an owner. One line end at the end of the file is not part of it.
 * @returns null when neither is set
 * @throws {ConfigError} when both are, or the file cannot be read, is empty or is open to others
 */
export function secretSetting(env: Env, name: string): string | null {
  const file = env[`${name}_FILE`]
  if (!file) return env[name] || null
  if (env[name]) throw new ConfigError(`${name} and ${name}_FILE are both set. Set ${name}_FILE alone.`)
  return secretFile(file, `${name}_FILE`)
}

/**
 * The secret in `file`, which `setting` names.
 * @throws {ConfigError} when it cannot be read, is empty or is open to others
 */
export function secretFile(file: string, setting: string): string {
  const text = contentOf(file, setting).replace(/\r?\n$/, '')
  if (text !== '') return text
  throw new ConfigError(`${setting} names ${file}, which is empty. Put the secret into it.`)
}

function contentOf(file: string, setting: string): string {
  try {
    // A secret that others may change is not ours; that others may read one is how containers mount them.
    if (process.platform !== 'win32' && (statSync(file).mode & 0o022) !== 0) {
      throw new Error('others may change it, run chmod 600 on it')
    }
    return readFileSync(file, 'utf8')
  } catch (cause) {
    throw new ConfigError(
      `${setting} names ${file}, which cannot be used: ${(cause as Error).message}. Set it to a file that this ` +
        'account alone may read.',
      { cause },
    )
  }
}
