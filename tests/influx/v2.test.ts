import { afterAll, beforeAll, describe, expect, it, onTestFinished } from 'vitest'
import { openInfluxStore } from '#server/store/influx/store'
import { InfluxFront } from '../helpers/influx-front.ts'
import { InfluxProcess, settingsFor } from '../helpers/influx-server.ts'
import { hasInfluxd } from '../helpers/influxd.mjs'
import { storeContract } from '../server/store-contract.ts'
import { addStream, columnsOf } from './streams.ts'

/**
 * Debian's influxd 1.6 answers 404 to the 2.x write API, so a front takes it and hands the lines on. This proves what
 * the store sends (paths, org, bucket, token, precision, line protocol that a real InfluxDB parses) and how it takes the
 * answers. It does not prove how a 2.x server differs behind the API: its InfluxQL, its deletes, its retention.
 */
describe.skipIf(!hasInfluxd())('InfluxDB store by the 2.x API', () => {
  const token = 'a-token=='
  let influx: InfluxProcess
  let databases = 0
  beforeAll(async () => {
    influx = await InfluxProcess.start()
  })
  afterAll(() => influx.remove())

  async function frontAndBucket() {
    const bucket = `bucket ${++databases}`
    await influx.ask(`CREATE DATABASE "${bucket}"`)
    const front = await InfluxFront.before(influx.url, { org: 'home', bucket, token })
    onTestFinished(() => front.close())
    return { front, bucket }
  }

  async function open(url: string, bucket: string, secret = token) {
    const settings = settingsFor(url, { api: 'v2', org: 'home', bucket, token: secret })
    const store = await openInfluxStore(':memory:', settings, 1, (error) => {
      throw error
    })
    onTestFinished(() => store.close())
    return store
  }

  describe('contract', () =>
    storeContract(async () => {
      const { front, bucket } = await frontAndBucket()
      return open(front.url, bucket)
    }))

  it('writes by /api/v2/write in microseconds and deletes by /api/v2/delete', async () => {
    const { front, bucket } = await frontAndBucket()
    const store = await open(front.url, bucket)
    await addStream(store, 's')
    await store.series.appendSamples('s', 0, columnsOf(0, 10))
    expect(await influx.ask('SELECT count(ax) FROM samples', bucket)).toEqual([[0, 10]])
    await store.records.deleteDog('dog-1')
    expect(await influx.ask('SELECT count(ax) FROM samples', bucket)).toEqual([])
    const write = `POST /api/v2/write?org=home&bucket=${bucket.replace(' ', '+')}&precision=us`
    expect(front.requests[0]).toBe(write)
    expect(front.requests.filter((line) => line.includes('/api/v2/delete'))).toHaveLength(1)
  })

  it('says what to do about a wrong token, without telling the token, and keeps the samples', async () => {
    const { front, bucket } = await frontAndBucket()
    const store = await open(front.url, bucket, 'wrong-token')
    await addStream(store, 's')
    expect(await store.series.appendSamples('s', 0, columnsOf(0, 10))).toBe(10)
    const { state, problem, waitingBlocks } = store.seriesStatus()
    expect({ state, waitingBlocks }).toEqual({ state: 'spilling', waitingBlocks: 1 })
    expect(problem).toMatch(/refuses the credentials \(401.*INFLUX_TOKEN/)
    expect(problem).not.toContain('wrong-token')
  })

  it('says what to do about a bucket there is not', async () => {
    const { front } = await frontAndBucket()
    const store = await open(front.url, 'elsewhere')
    await addStream(store, 's')
    expect(await store.series.appendSamples('s', 0, columnsOf(0, 10))).toBe(10)
    expect(store.seriesStatus().problem).toMatch(/has no "elsewhere".*INFLUX_ORG and INFLUX_BUCKET/)
  })
})
