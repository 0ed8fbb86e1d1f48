import { describe, expect, it } from 'vitest'
import { formatEdf } from '#signal/trace/edf-write'
import { uniformStretches } from '#signal/trace/resample'
import { addDog, testApp } from '../helpers/build-app.ts'
import { sessionTrace } from '../helpers/session-trace.ts'
import { upload } from '../helpers/upload.ts'

const trace = sessionTrace()
const { marks, startedAtUs } = trace
const edf = formatEdf({ ...uniformStretches(trace), marks, startedAtUs })

describe('the server takes EDF+', () => {
  it('as an upload, with start, marks and holds', async () => {
    const app = await testApp()
    const response = await upload(app, await addDog(app), edf, {}, 'trace.edf')
    expect(response.statusCode).toBe(201)
    const session = response.json()
    expect(session).toMatchObject({
      state: 'finished',
      fileName: 'trace.edf',
      rateHz: 100,
      startedAt: '2026-03-01T17:30:00.000Z',
    })
    expect(session.holds).toBeGreaterThanOrEqual(1)
  })

  it('and answers a broken one with what to do', async () => {
    const app = await testApp()
    const response = await upload(app, await addDog(app), edf.subarray(0, 2000), {}, 'trace.edf')
    expect(response.statusCode).toBe(422)
    expect(response.json()).toMatchObject({ remedy: expect.stringContaining('completely') })
  })
})
