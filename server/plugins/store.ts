import type { Config } from '../config.ts'
import { openStore } from '../store/open-store.ts'
import type { Store } from '../store/store.ts'
import { shared } from './shared.ts'

declare module 'fastify' {
  interface FastifyInstance {
    store: Store
  }
}

/** Opens the store and closes it after everything that writes to it. */
export default shared<{ config: Config }>('store', async (app, { config }) => {
  const store = await openStore(config, (err) => {
    app.log.error({ err }, 'samples could not be compacted or moved; they stay as they are')
  })
  app.decorate('store', store)
  app.addHook('onClose', () => store.close())
})
