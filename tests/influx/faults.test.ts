import { afterAll, beforeAll, describe, expect, it, onTestFinished } from 'vitest'
import type { InfluxSettings } from '#server/store/influx/settings'
import { openInfluxStore } from '#server/store/influx/store'
import { temporaryDir } from '../helpers/build-app.ts'
import { InfluxFront } from '../helpers/influx-front.ts'
import type { Fault } from '../helpers/influx-front.ts'
import { InfluxProcess, newDatabase, settingsFor } from '../helpers/influx-server.ts'
import type { InfluxOptions } from '../helpers/influx-server.ts'
import { hasInfluxd } from '../helpers/influxd.mjs'
import { storedSamples } from '../helpers/stored-samples.ts'
import { directRows } from './direct-rows.ts'
import { addStream, columnsOf, rowsOf } from './streams.ts'

const POLL = { timeout: 60_000, interval: 10 }

describe.skipIf(!hasInfluxd())('InfluxDB that fails', () => {
  let influx: InfluxProcess
  beforeAll(async () => {
    influx = await InfluxProcess.start()
  })
  afterAll(() => influx.remove())

  async function open(settings: InfluxSettings, dir = ':memory:', problems: unknown[] = []) {
    const store = await openInfluxStore(dir, settings, 1, (error) => void problems.push(error))
    let isOpen = true
    const close = async () => {
      if (isOpen) await store.close()
      isOpen = false
    }
    onTestFinished(close)
    return { ...store, close }
  }

  async function behindFront(server = influx) {
    const front = await InfluxFront.before(server.url)
    onTestFinished(() => front.close())
    const settings = await newDatabase(server, front.url)
    const { target } = settings
    return { front, settings, database: target.api === 'v1' ? target.database : '' }
  }

  const faults: Fault[] = [
    'refused',
    'cut before',
    'cut after',
    'late',
    { status: 429, headers: { 'retry-after': '1' } },
  ]
  it.each(faults)('loses and doubles nothing when every second write ends %j', async (fault) => {
    const { front, settings, database } = await behindFront()
    let writes = 0
    front.fault = (_, path) => (path.startsWith('/write') && writes++ % 2 === 1 ? fault : 'none')
    // Long enough for an honest answer on a busy machine.
    const store = await open({ ...settings, timeoutMs: fault === 'late' ? 300 : 5000 })
    await addStream(store, 's')
    for (let i = 0; i < 400; i += 10) {
      expect(await store.series.appendSamples('s', i, columnsOf(i, 10))).toBe(i + 10)
      // At every moment: all of it, in order, each once.
      if (i % 100 === 90) expect(await storedSamples(store, 's')).toEqual(rowsOf(i + 10))
    }
    expect(writes, 'writes that met the fault').toBeGreaterThan(1)
    front.fault = () => 'none'
    await expect.poll(() => store.seriesStatus().state, POLL).toBe('ok')
    expect(await storedSamples(store, 's')).toEqual(rowsOf(400))
    expect(await directRows(influx, database, 0)).toEqual(rowsOf(400))
  })

  it('takes whole traces through a server that takes short requests only', async () => {
    const small = await started({ maxBodyBytes: 20_000 })
    const settings = await newDatabase(small)
    const store = await open(settings)
    await addStream(store, 's')
    expect(await store.series.appendSamples('s', 0, columnsOf(0, 9000))).toBe(9000)
    expect(store.seriesStatus()).toMatchObject({ state: 'ok', waitingBlocks: 0, problem: null })
    expect(await storedSamples(store, 's')).toEqual(rowsOf(9000))
  })

  it('keeps what InfluxDB rejects, says so, and goes on with other streams', async () => {
    const { settings, database } = await behindFront()
    const problems: unknown[] = []
    const store = await open(settings, ':memory:', problems)
    await addStream(store, 'good')
    await addStream(store, 'odd', 'dog-2')
    // A shard in which the field is an integer already: real InfluxDB calls that a field type conflict.
    await influx.ask(`DROP MEASUREMENT samples`, database)
    const lines = `samples,dog=other,slot=0 ax=1i 1772386200000000`
    await fetch(`${influx.url}/write?db=${database}&precision=u`, { method: 'POST', body: lines })
    expect(await store.series.appendSamples('odd', 0, columnsOf(0, 10))).toBe(10)
    await expect.poll(() => store.seriesStatus().refusedStreams, POLL).toBe(1)
    expect(store.seriesStatus().problem).toMatch(/rejects the data \(400.*field type conflict/)
    expect(await storedSamples(store, 'odd')).toEqual(rowsOf(10))
    await influx.ask(`DROP MEASUREMENT samples`, database)
    expect(await store.series.appendSamples('good', 0, columnsOf(0, 20))).toBe(20)
    await expect.poll(() => store.seriesStatus().waitingBlocks, POLL).toBe(0)
    expect(await directRows(influx, database, 0)).toEqual(rowsOf(20))
    expect(problems).toHaveLength(1)
  })

  it('keeps values InfluxDB has no text for in the embedded store', async () => {
    const store = await open(await newDatabase(influx))
    await addStream(store, 's')
    const values = [0, 1, 2].map(() => Float64Array.of(NaN, Infinity, 1))
    await store.series.appendSamples('s', 0, { dtype: 'float64', values })
    await expect.poll(() => store.seriesStatus().refusedStreams, POLL).toBe(1)
    expect((await storedSamples(store, 's'))[0]).toEqual([0, NaN, NaN, NaN])
  })

  it('tells changed samples in an answer from those that were stored', async () => {
    const { front, settings } = await behindFront()
    const store = await open(settings)
    await addStream(store, 's')
    await store.series.appendSamples('s', 0, columnsOf(0, 50))
    front.fault = (_, path) => (path.startsWith('/query') ? 'garbled' : 'none')
    await expect(storedSamples(store, 's')).rejects.toThrow(/not those that were stored in InfluxDB/)
    front.fault = () => 'none'
    expect(await storedSamples(store, 's')).toEqual(rowsOf(50))
  })

  it('tells missing samples', async () => {
    const { settings, database } = await behindFront()
    const store = await open(settings)
    await addStream(store, 's')
    await store.series.appendSamples('s', 0, columnsOf(0, 50))
    await influx.ask(`DELETE FROM samples WHERE time = 1772386200100000u`, database)
    await expect(storedSamples(store, 's')).rejects.toThrow(
      /samples 0 to 49 of stream s are not all there in InfluxDB/,
    )
  })

  it('refuses to read while it is away, and deletes once it is back', async () => {
    const { front, settings, database } = await behindFront()
    const store = await open(settings)
    await addStream(store, 's')
    await addStream(store, 'kept', 'dog-2')
    await store.series.appendSamples('s', 0, columnsOf(0, 50))
    await store.series.appendSamples('kept', 0, columnsOf(0, 50))
    front.fault = () => 'refused'
    await expect(storedSamples(store, 's')).rejects.toMatchObject({ name: 'SeriesUnavailableError' })
    expect(await store.records.deleteDog('dog-1')).toBe(true)
    expect(store.seriesStatus().pendingDeletions).toBe(1)
    expect(await influx.ask('SELECT count(ax) FROM samples', database)).toEqual([[0, 100]])
    front.fault = () => 'none'
    await expect.poll(() => store.seriesStatus().pendingDeletions, POLL).toBe(0)
    expect(await influx.ask('SELECT count(ax) FROM samples', database)).toEqual([[0, 50]])
    expect(await storedSamples(store, 'kept')).toEqual(rowsOf(50))
  })

  it(
    'killed and started again, has everything; what came meanwhile follows',
    { timeout: 120_000 },
    async () => {
      const own = await started()
      const settings = await newDatabase(own)
      const dir = await temporaryDir()
      const store = await open(settings, dir)
      await addStream(store, 's')
      for (let i = 0; i < 500; i += 10) {
        if (i === 200) await own.kill()
        expect(await store.series.appendSamples('s', i, columnsOf(i, 10))).toBe(i + 10)
      }
      expect(store.seriesStatus()).toMatchObject({ state: 'spilling', waitingBlocks: 30 })
      expect(store.seriesStatus().problem).toMatch(/cannot be reached \(ECONN/)
      await store.close()
      // It opens without InfluxDB as well.
      const again = await open(settings, dir)
      expect(await again.series.appendSamples('s', 500, columnsOf(500, 10))).toBe(510)
      await own.run()
      await expect.poll(() => again.seriesStatus().state, POLL).toBe('ok')
      expect(await storedSamples(again, 's')).toEqual(rowsOf(510))
      const { target } = settings
      expect(await directRows(own, target.api === 'v1' ? target.database : '', 0)).toEqual(rowsOf(510))
    },
  )

  it('gives streams of a dog whose times overlap slots of their own, others the same', async () => {
    const { settings, database } = await behindFront()
    const store = await open(settings)
    const starts = { a: 0, b: 3, later: 600, '!é, =\\\'"': 0 }
    for (const [id, s] of Object.entries(starts)) {
      const dogId = id.length > 5 && id !== 'later' ? id : 'dog-1'
      await addStream(store, id, dogId, 1_772_386_200_000_000 + s * 1e6)
      await store.series.appendSamples(id, 0, columnsOf(0, 1000, s))
      if (id !== 'a') await store.series.complete(id)
      if (id === 'b') await store.series.complete('a')
    }
    const slots = await influx.ask('SHOW TAG VALUES FROM samples WITH KEY = slot', database)
    expect(slots.map(([, slot]) => slot)).toEqual(['0', '1'])
    for (const [id, s] of Object.entries(starts))
      expect(await storedSamples(store, id)).toEqual(rowsOf(1000, s))
    await store.records.deleteSession('session-a')
    for (const id of ['b', 'later']) expect(await storedSamples(store, id)).toHaveLength(1000)
    expect(await influx.ask('SELECT count(ax) FROM samples', database)).toEqual([[0, 3000]])
  })

  it('uses the password of 1.x, and says what to do about a wrong one', async () => {
    const own = await started({ authEnabled: true })
    await own.ask(`CREATE USER swaybook WITH PASSWORD 'right one' WITH ALL PRIVILEGES`)
    await own.ask('CREATE DATABASE d', '', 'swaybook:right one')
    for (const password of ['wrong one', 'right one']) {
      const login = { username: 'swaybook', password }
      const store = await open(settingsFor(own.url, { api: 'v1', database: 'd', login }))
      await addStream(store, 's')
      expect(await store.series.appendSamples('s', 0, columnsOf(0, 10))).toBe(10)
      const { state, problem } = store.seriesStatus()
      if (password === 'right one') expect(state).toBe('ok')
      else expect(problem).toMatch(/refuses the credentials \(401.*INFLUX_USERNAME and INFLUX_PASSWORD/)
      expect(problem ?? '').not.toContain(password)
    }
  })

  async function started(options: InfluxOptions = {}): Promise<InfluxProcess> {
    const server = await InfluxProcess.start(options)
    onTestFinished(() => server.remove())
    return server
  }
})
