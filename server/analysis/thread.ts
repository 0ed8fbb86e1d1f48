import { Worker } from 'node:worker_threads'
import type { WorkerOptions } from 'node:worker_threads'

const COMPILED = import.meta.url.endsWith('.js')

/** Starts the module `path` (without extension, relative to `from`) in a thread, as source or compiled. */
export function startThread(path: string, from: string, options: WorkerOptions = {}): Worker {
  const url = new URL(`${path}${COMPILED ? '.js' : '.ts'}`, from)
  if (COMPILED) return new Worker(url, options)
  return new Worker(new URL('./thread-from-source.mjs', import.meta.url), {
    ...options,
    workerData: { module: url.href },
    execArgv: ['--conditions=source'],
  })
}
