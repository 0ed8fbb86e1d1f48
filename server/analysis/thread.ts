import type { WorkerOptions } from 'node:worker_threads'

const COMPILED = import.meta.url.endsWith('.js')

/** The file of a worker next to the module `from`, as source or compiled. */
export function threadUrl(path: string, from: string): URL {
  return new URL(`${path}${COMPILED ? '.js' : '.ts'}`, from)
}

/** From source a thread needs what the main thread got: TypeScript and the `source` condition. */
export function threadOptions(): WorkerOptions {
  return { execArgv: COMPILED ? [] : ['--conditions=source', '--import', 'tsx'] }
}
