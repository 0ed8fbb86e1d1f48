import { AnalysisPool } from '../analysis/pool.ts'
import { SessionAnalyses } from '../analysis/session-analyses.ts'
import type { Config } from '../config.ts'
import { Ingest } from '../ingest/ingest.ts'
import { Hub } from '../live/hub.ts'
import { shared } from './shared.ts'

declare module 'fastify' {
  interface FastifyInstance {
    pool: AnalysisPool
    hub: Hub
    ingest: Ingest
  }
}

/** Recording, fan-out and analysis. Needs the store; stops before it. */
export default shared<{ config: Config }>('live', async (app, { config }) => {
  const { analysisMs, analysisHeapMb, abandonMs } = config.limits
  const pool = new AnalysisPool({ analysisMs, analysisHeapMb })
  const hub = new Hub()
  const analyses = new SessionAnalyses(app.store, pool, app.log)
  const ingest = new Ingest({ store: app.store, hub, analyses, abandonMs, log: app.log, meter: app.meter })
  app.decorate('pool', pool)
  app.decorate('hub', hub)
  app.decorate('ingest', ingest)
  app.addHook('onReady', async () => {
    await ingest.resume()
    app.lifecycle.started()
  })
  app.store.onSeriesBack(() => ingest.seriesBack())
  app.addHook('onClose', async () => {
    const stopped = ingest.close()
    // What is being analysed is analysed again after the next start.
    await pool.close()
    await stopped
    await analyses.settled()
  })
})
