import type { Config } from '../config.ts'
import { openInfluxStore } from './influx/store.ts'
import { openSqliteStore } from './sqlite/store.ts'
import type { Store } from './store.ts'

/**
 * The store that the configuration asks for. `onProblem` is told what went wrong where nobody waits for it; nothing is
 * lost then.
 * @throws {DataFolderError} when the folder cannot be used, another server has it, or its samples are elsewhere
 */
export function openStore(
  { dataDir, influx, limits }: Pick<Config, 'dataDir' | 'influx' | 'limits'>,
  onProblem: (error: unknown) => void,
): Promise<Store> {
  return influx
    ? openInfluxStore(dataDir, influx, limits.commitMs, onProblem)
    : openSqliteStore(dataDir, limits.commitMs, onProblem)
}
