import { statSync } from 'node:fs'
import type { Config } from '../config.ts'
import { ServerError } from '../errors.ts'
import type { IngestMeter } from '../ingest/meter.ts'
import { Lifecycle } from '../operations/lifecycle.ts'
import { Metrics } from '../operations/metrics.ts'
import { readiness } from '../operations/readiness.ts'
import type { Readiness } from '../operations/readiness.ts'
import { StorageCondition } from '../operations/storage-condition.ts'
import { databasePath } from '../store/sqlite/connection.ts'
import { shared } from './shared.ts'
import { tell } from '../log/tell.ts'

declare module 'fastify' {
  interface FastifyInstance {
    lifecycle: Lifecycle
    metrics: Metrics
    condition: StorageCondition
    /** What recorders tell: numbers, and whether the store takes what they give. */
    meter: IngestMeter
    readiness(): Promise<Readiness>
  }
}

/** What those who run the server look at: how far it is, whether it can store, and numbers. */
export default shared<{ config: Config }>('operations', async (app, { config }) => {
  const lifecycle = new Lifecycle()
  const condition = new StorageCondition(config.dataDir, (problem) => {
    if (problem) tell(app.log, 'storage.stopped', problem)
    else tell(app.log, 'storage.back')
  })
  const isReady = () => readiness({ lifecycle, condition, store: app.store })
  const metrics = new Metrics({
    condition,
    analyses: () => app.pool.load,
    series: () => app.store.seriesStatus(),
    isReady: async () => (await isReady()).ready,
    databaseBytes: () => databaseBytes(config.dataDir),
  })
  app.decorate('lifecycle', lifecycle)
  app.decorate('condition', condition)
  app.decorate('metrics', metrics)
  app.decorate('readiness', isReady)
  app.decorate('meter', {
    received: (samples) => metrics.received(samples),
    lost: (samples) => metrics.lost(samples),
    stored: (samples, seconds) => metrics.stored(samples, seconds),
    failed(error) {
      metrics.failed()
      condition.failed(error)
    },
  })
  app.addHook('onResponse', async (request, reply) => {
    const { method, routeOptions } = request
    metrics.answered({
      method,
      route: routeOptions.url,
      status: reply.statusCode,
      seconds: reply.elapsedTime / 1000,
    })
  })
  app.addHook('onError', async (_request, _reply, error) => {
    condition.failed(error)
    if (error instanceof ServerError && (error.status === 401 || error.status === 403)) {
      metrics.refused(error.code)
    }
  })
  app.addHook('onClose', async () => condition.close())
})

function databaseBytes(dataDir: string): { database: number; log: number } | null {
  if (dataDir === ':memory:') return null
  const sizeOf = (path: string) => statSync(path, { throwIfNoEntry: false })?.size ?? 0
  const path = databasePath(dataDir)
  return { database: sizeOf(path), log: sizeOf(`${path}-wal`) }
}
