import type { Config } from '../config.ts'
import { openSqliteStore } from '../store/sqlite/store.ts'
import type { Store } from '../store/store.ts'
import { shared } from './shared.ts'

declare module 'fastify' {
  interface FastifyInstance {
    store: Store
  }
}

/** Opens the store and closes it after everything that writes to it. */
export default shared<{ config: Config }>('store', async (app, { config }) => {
  const store = await openSqliteStore(config.dataDir, config.limits.commitMs, (err) => {
    app.log.error({ err }, 'a stream could not be compacted; it stays as it is')
  })
  app.decorate('store', store)
  app.addHook('onClose', () => store.close())
})
