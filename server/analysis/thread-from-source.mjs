/** Runs a TypeScript module in a worker thread: tsx registers itself in main threads only. */
import { workerData } from 'node:worker_threads'
import { register } from 'tsx/esm/api'

register()
await import(workerData.module)
