import type { Config } from '../config.ts'
import { DamageLog } from '../operations/damage-log.ts'
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
  const damages = new DamageLog((damage) => {
    app.metrics.damaged()
    const { stream, range } = damage
    const place = { stream, firstIndex: range.firstIndex, endIndex: range.firstIndex + range.count }
    store.series.stream(stream).then(
      (record) =>
        app.log.error({ ...place, sessionId: record?.sessionId, err: damage }, 'stored samples are damaged'),
      (err: unknown) => app.log.error({ ...place, err }, 'stored samples are damaged'),
    )
  })
  store.onDamaged((damage) => damages.found(damage))
  app.decorate('store', store)
  app.addHook('onClose', () => store.close())
})
