import { afterAll, beforeAll, describe, expect, it, onTestFinished } from 'vitest'
import { openInfluxStore } from '#server/store/influx/store'
import { CorruptBlockError } from '#server/store/time-series'
import { InfluxProcess, newDatabase } from '../helpers/influx-server.ts'
import { hasInfluxd } from '../helpers/influxd.mjs'
import { storedSamples } from '../helpers/stored-samples.ts'
import { addStream, columnsOf } from './streams.ts'

describe.skipIf(!hasInfluxd())('samples that InfluxDB no longer has as they were stored', () => {
  let influx: InfluxProcess
  beforeAll(async () => {
    influx = await InfluxProcess.start()
  })
  afterAll(() => influx.remove())

  it('are named by index, left out where that is asked for, and known from then on; the rest is read', async () => {
    const settings = await newDatabase(influx)
    const database = settings.target.api === 'v1' ? settings.target.database : ''
    const store = await openInfluxStore(':memory:', settings, 1, () => undefined)
    onTestFinished(() => store.close())
    await addStream(store, 's')
    for (const from of [0, 100, 200]) await store.series.appendSamples('s', from, columnsOf(from, 100))
    await store.caughtUp()
    expect(await store.series.damaged('s')).toEqual([])
    const rows = await influx.ask('SELECT * FROM samples', database)
    expect(rows).toHaveLength(300)
    await influx.ask(`DELETE FROM samples WHERE time = ${String(rows[150][0])}u`, database)

    await expect(storedSamples(store, 's')).rejects.toBeInstanceOf(CorruptBlockError)
    const damages: CorruptBlockError[] = []
    const kept: number[] = []
    for await (const block of store.series.readSamples('s', 0, 300, (damage) => damages.push(damage))) {
      kept.push(...Array.from({ length: block.count }, (_, i) => block.firstIndex + i))
    }
    const range = { firstIndex: 100, count: 100 }
    expect(damages).toMatchObject([{ stream: 's', range }])
    expect(kept).toEqual([...Array(300).keys()].filter((i) => i < 100 || i >= 200))
    expect(await store.series.damaged('s')).toEqual([range])
  })
})
