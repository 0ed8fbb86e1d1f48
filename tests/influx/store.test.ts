import { afterAll, beforeAll, describe, onTestFinished } from 'vitest'
import { openInfluxStore } from '#server/store/influx/store'
import { temporaryDir } from '../helpers/build-app.ts'
import { InfluxProcess, newDatabase } from '../helpers/influx-server.ts'
import { hasInfluxd } from '../helpers/influxd.mjs'
import { storeContract } from '../server/store-contract.ts'

describe.skipIf(!hasInfluxd())('InfluxDB store', () => {
  let influx: InfluxProcess
  beforeAll(async () => {
    influx = await InfluxProcess.start()
  })
  afterAll(() => influx.remove())

  const open = async (dir: string, url?: string) => {
    const store = await openInfluxStore(dir, await newDatabase(influx, url), 1, (error) => {
      throw error
    })
    onTestFinished(() => store.close())
    return store
  }

  describe('1.x, records in memory', () => storeContract(() => open(':memory:')))
  describe('1.x, records in a folder', () => storeContract(async () => open(await temporaryDir())))
  describe('out of reach from the beginning', () =>
    storeContract(async () => open(await temporaryDir(), 'http://127.0.0.1:9')))
})
