import type { Config } from '../config.ts'
import { DamageLog } from '../operations/damage-log.ts'
import { migrateAtStart } from '../upkeep/migrate.ts'
import { openStore } from '../store/open-store.ts'
import type { Store } from '../store/store.ts'
import { shared } from './shared.ts'
import { tell } from '../log/tell.ts'

declare module 'fastify' {
  interface FastifyInstance {
    store: Store
  }
}

/** Opens the store and closes it after everything that writes to it. */
export default shared<{ config: Config }>('store', async (app, { config }) => {
  const migrated = await migrateAtStart(config.dataDir)
  if (migrated) {
    tell(app.log, 'data.brought-up-to-date', { migrations: migrated.pending, copy: migrated.copyDir })
  }
  const store = await openStore(config, (err) => {
    tell(app.log, 'store.work-failed', { err })
  })
  const damages = new DamageLog((damage) => {
    app.metrics.damaged()
    const { stream, range } = damage
    const place = { stream, firstIndex: range.firstIndex, endIndex: range.firstIndex + range.count }
    store.series.stream(stream).then(
      (record) => tell(app.log, 'samples.damaged', { ...place, sessionId: record?.sessionId, err: damage }),
      (err: unknown) => tell(app.log, 'samples.damaged', { ...place, err }),
    )
  })
  store.onDamaged((damage) => damages.found(damage))
  app.decorate('store', store)
  app.addHook('onClose', () => store.close())
})
