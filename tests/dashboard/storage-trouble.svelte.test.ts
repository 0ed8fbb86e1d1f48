import { describe, expect, test, vi } from 'vitest'
import StorageBannerTest from './fakes/StorageBannerTest.svelte'
import { ApiError } from '../../dashboard/lib/problem.ts'
import { read } from '../../dashboard/lib/request.ts'
import { storageTrouble } from '../../dashboard/lib/storage-trouble.svelte.ts'
import { shownScreen } from './fakes/shown-screen.ts'

const screen = shownScreen()
const FULL =
  'Nothing more can be stored: the disk of the server is full. Make room; storing goes on by itself then.'
const json = (status: number, body: object) =>
  new Response(JSON.stringify(body), { status, headers: { 'content-type': 'application/json' } })
const ready = () => json(200, { ready: true, reasons: [], warnings: [] })
const full = () =>
  json(503, { ready: false, reasons: [{ code: 'DISK_FULL', detail: FULL, since: null }], warnings: [] })
const stopping = () =>
  json(503, { ready: false, reasons: [{ code: 'STOPPING', detail: 'Stopping.', since: null }] })

/** A recording as the banner sees it. */
const recording = (changes: object = {}) => ({
  active: true,
  status: 'connected',
  keptOnDevice: true,
  ...changes,
})

async function shown(answer: () => Response, current: object | null = null) {
  storageTrouble.detail = null
  storageTrouble.recovered = false
  vi.useFakeTimers()
  const server = { answer }
  const calls = screen.stubApi({ 'GET /api/ready': () => server.answer() })
  screen.show(StorageBannerTest, { current })
  await vi.advanceTimersByTimeAsync(0)
  return { server, calls }
}

describe('the banner about storing', () => {
  test('is not there while all is well, and the server is asked once a minute', async () => {
    const { calls } = await shown(ready)
    expect(screen.find('[role=alert]')).toBeNull()
    expect(screen.find('[role=status]')).toBeNull()
    await vi.advanceTimersByTimeAsync(180_000)
    expect(calls).toHaveLength(4)
  })

  test('says in the words of the server what is wrong and what to do, and goes by itself', async () => {
    const { server } = await shown(full)
    expect(screen.find('[role=alert]')?.textContent).toContain(FULL)
    expect(screen.text()).toContain('What is stored can be read')
    server.answer = ready
    await vi.advanceTimersByTimeAsync(4000)
    expect(screen.find('[role=alert]')).toBeNull()
    expect(screen.find('[role=status]')?.textContent).toContain('The server stores again')
    await vi.advanceTimersByTimeAsync(10_000)
    expect(screen.find('[role=status]')).toBeNull()
  })

  test('can be made short by whoever needs the buttons under it, and long again', async () => {
    await shown(full)
    screen.button('Less').click()
    await vi.advanceTimersByTimeAsync(0)
    expect(screen.text()).not.toContain('Make room')
    expect(screen.find('[role=alert]')?.textContent).toContain('Nothing more can be stored.')
    screen.button('More').click()
    await vi.advanceTimersByTimeAsync(0)
    expect(screen.text()).toContain('Make room')
  })

  test.each([
    [true, /it is kept on this device until the server takes it/],
    [false, /cannot keep it either: leave this page open/],
  ])('tells what it means for a running recording (kept on this device: %s)', async (keptOnDevice, words) => {
    await shown(full, recording({ keptOnDevice }))
    expect(screen.text()).toMatch(words)
  })

  test('a recording that lost its connection, and an answer that nothing was stored, ask at once', async () => {
    const { server, calls } = await shown(ready, recording({ status: 'waiting to reconnect' }))
    const before = calls.length
    server.answer = full
    const problem = { type: 'urn:x', title: 'x', status: 507, detail: 'full', code: 'DISK_FAILED' }
    storageTrouble.noteRefusal(new ApiError('full', { problem, status: 507 }))
    await vi.advanceTimersByTimeAsync(0)
    expect(calls.length).toBe(before + 1)
    expect(screen.find('[role=alert]')?.textContent).toContain(FULL)
  })

  test('any call of the API that is refused for the disk brings it', async () => {
    const { server } = await shown(ready)
    server.answer = full
    screen.stubApi({
      'GET /api/dogs': json(507, { status: 507, detail: 'full', code: 'DISK_FAILED', type: '', title: '' }),
      'GET /api/ready': full,
    })
    await expect(read('/api/dogs')).rejects.toThrow('full')
    await vi.advanceTimersByTimeAsync(0)
    expect(screen.find('[role=alert]')?.textContent).toContain(FULL)
  })

  test('samples out of reach are no trouble with storing, and noticed when something was refused for it', async () => {
    const detail = 'InfluxDB cannot be reached (ECONNREFUSED); is it running?'
    const away = () =>
      json(200, { ready: true, reasons: [], warnings: [{ code: 'SERIES_SPILLING', detail, since: null }] })
    const { server } = await shown(ready)
    expect(storageTrouble.samplesAway).toBeNull()
    server.answer = away
    const problem = { type: 'urn:x', title: 'x', status: 503, detail: 'away', code: 'SERIES_UNAVAILABLE' }
    storageTrouble.noteRefusal(new ApiError('away', { problem, status: 503 }))
    await vi.advanceTimersByTimeAsync(0)
    expect(storageTrouble.samplesAway).toBe(detail)
    expect(screen.find('[role=alert]')).toBeNull()
    server.answer = ready
    await vi.advanceTimersByTimeAsync(4000)
    expect(storageTrouble.samplesAway).toBeNull()
  })

  test('a server that stops, or cannot be reached, is told elsewhere and changes nothing here', async () => {
    const { server } = await shown(stopping)
    expect(screen.find('[role=alert]')).toBeNull()
    server.answer = full
    await vi.advanceTimersByTimeAsync(60_000)
    server.answer = () => {
      throw new TypeError('out of reach')
    }
    await vi.advanceTimersByTimeAsync(20_000)
    expect(screen.find('[role=alert]')?.textContent).toContain(FULL)
  })
})
