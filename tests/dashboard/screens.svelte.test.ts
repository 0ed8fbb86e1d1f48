import { flushSync, mount, unmount } from 'svelte'
import { afterEach, beforeEach, describe, expect, onTestFinished, test, vi } from 'vitest'
import type { SessionSummary } from '#protocol/resources'
import type { BandReport } from '#signal/report-types'
import App from '../../dashboard/App.svelte'
import { unsentSessions } from '../../dashboard/recorder/unsent.svelte.ts'
import HoldTable from '../../dashboard/components/HoldTable.svelte'
import MarkEditor from '../../dashboard/components/MarkEditor.svelte'
import SessionList from '../../dashboard/components/SessionList.svelte'
import StateSign from '../../dashboard/components/StateSign.svelte'
import SwayBand from '../../dashboard/components/SwayBand.svelte'
import SwayHistory from '../../dashboard/components/SwayHistory.svelte'
import TraceMapping from '../../dashboard/components/TraceMapping.svelte'
import { peakLines } from '../../dashboard/lib/hold-facts.ts'
import { sensorLimit } from '../../dashboard/lib/sensor-limit.ts'
import type { TraceFields } from '../../dashboard/lib/upload.ts'
import { anyHold, anySession } from './fakes/records.ts'

// uPlot needs a real canvas: in this DOM it fails after the test that made it.
vi.mock('../../dashboard/lib/time-chart', () => ({
  createTimeChart: async () => ({ setRange() {}, annotate() {}, destroy() {} }),
}))

/** Screens are loaded when they are first opened: on a busy machine that takes its time. */
const SLOWLY = { timeout: 20_000 }
vi.setConfig({ testTimeout: 60_000 })

let host: HTMLElement
let shown: object | null = null

beforeEach(() => {
  host = document.createElement('div')
  document.body.replaceChildren(host)
})

afterEach(async () => {
  if (shown) await unmount(shown)
  shown = null
  vi.unstubAllGlobals()
})

// eslint-disable-next-line @typescript-eslint/no-explicit-any -- props are checked where a component is used
function show(component: any, props: object = {}) {
  shown = mount(component, { target: host, props })
  flushSync()
}

const text = () => host.textContent.replace(/\s+/g, ' ')

/** Answers calls by address; anything else is an error of the test. */
function stubApi(answers: Record<string, () => Response>) {
  const calls: string[] = []
  vi.stubGlobal('fetch', async (url: string, init?: RequestInit) => {
    calls.push(`${init?.method ?? 'GET'} ${url}`)
    const answer = answers[url.split('?')[0]]
    if (!answer) throw new TypeError(`no answer for ${url}`)
    return answer()
  })
  return calls
}

const json = (body: object, status = 200) => new Response(JSON.stringify(body), { status })

describe('home', () => {
  test('without a dog it offers to set one up or to look around', async () => {
    history.replaceState(null, '', '/')
    stubApi({ '/api/dogs': () => json([]) })
    show(App)
    await vi.waitFor(() => expect(text()).toContain('Set up a dog'), SLOWLY)
    expect(text()).toContain('Look around with the demo dog')
  })

  test('says when the server cannot be reached and loads again on request', async () => {
    history.replaceState(null, '', '/')
    let up = false
    stubApi({
      '/api/dogs': () => {
        if (!up) throw new TypeError('refused')
        return json([])
      },
    })
    show(App)
    await vi.waitFor(() => expect(text()).toContain('The dogs could not be loaded'), SLOWLY)
    expect(text()).toContain('The Swaybook server cannot be reached')
    up = true
    const again = [...host.querySelectorAll('button')].find((button) => button.textContent === 'Try again')
    again?.click()
    await vi.waitFor(() => expect(text()).toContain('Set up a dog'), SLOWLY)
    expect(text()).not.toContain('could not be loaded')
  })

  test('opening the demo dog leads to her screen, which says that her sessions are on their way', async () => {
    history.replaceState(null, '', '/')
    const dog = {
      id: 'd1',
      name: 'Juniper',
      demo: true,
      sessions: 0,
      breed: null,
      weightKg: 27,
      withersCm: null,
      notes: null,
      createdAt: '',
    }
    const calls = stubApi({
      '/api/dogs': () => json([]),
      '/api/demo': () => json(dog, 201),
      '/api/dogs/d1': () => json(dog),
      '/api/sessions': () => json({ sessions: [], next: null }),
    })
    show(App)
    await vi.waitFor(() => expect(text()).toContain('Look around'), SLOWLY)
    const demo = [...host.querySelectorAll('button')].find((button) =>
      button.textContent.includes('Look around'),
    )
    demo?.click()
    // Once it said "No sessions yet", asked for a plan, and did not look again for 8 s.
    await vi.waitFor(() => expect(text()).toContain('Sixteen weeks are being simulated'), SLOWLY)
    expect(text()).not.toContain('setting up')
    const looks = () => calls.filter((call) => call.startsWith('GET /api/sessions')).length
    const before = looks()
    await vi.waitFor(() => expect(looks()).toBeGreaterThan(before), SLOWLY)
    expect(calls).toContain('POST /api/demo')
    expect(location.pathname).toBe('/dogs/d1')
  })
})

describe('list of sessions', () => {
  const row = (extra: Partial<SessionSummary>) => ({ ...anySession(), ...extra })

  test('is newest first and shows values with their units and the quality in words', () => {
    show(SessionList, {
      sessions: [
        row({ id: 'old', startedAt: '2026-03-01T10:00:00Z' }),
        row({ id: 'new', startedAt: '2026-04-01T10:00:00Z', comparableSwayMs2: 0.0421, verdict: 'usable' }),
      ],
    })
    const links = [...host.querySelectorAll('a')].map((link) => link.getAttribute('href'))
    expect(links).toEqual(['/sessions/new', '/sessions/old'])
    expect(text()).toContain('42.1 mm/s²')
    expect(text()).toContain('Usable, with limits')
  })

  test('shows the sway to compare, as the chart does, and none where there is none', () => {
    show(SessionList, { sessions: [row({ swayMs2: 0.0777, comparableSwayMs2: null })] })
    expect(text()).not.toContain('77.7')
    expect(host.querySelectorAll('td')[2].textContent.trim()).toBe('–')
  })

  test('a sway that the steps of the sensor hide is told as under its limit', () => {
    // 2 · √2 · 0.1/√12 = 0.0816 m/s².
    const phone = { sensor: 'phone', fileName: null, resolutionMs2: 0.1 }
    show(SessionList, {
      sessions: [
        row({ id: 'a', ...phone, comparableSwayMs2: 0.0219 }),
        row({ id: 'b', ...phone, comparableSwayMs2: 0.0921 }),
      ],
    })
    const [hidden, shownAsIs] = [...host.querySelectorAll('tbody tr')].map((tr) => tr.textContent)
    expect(hidden).toContain('under 81.6 mm/s²')
    expect(hidden).toContain('below what this phone can measure')
    expect(hidden).not.toContain('21.9')
    expect(shownAsIs).toContain('92.1 mm/s²')
    expect(shownAsIs).not.toContain('under')
  })

  test('a file without a date goes by its name and says that the date is not known', () => {
    show(SessionList, { sessions: [row({ startedAt: null, fileName: 'evening.csv' })] })
    expect(host.querySelector('th a')?.textContent.trim()).toBe('evening.csv')
    expect(text()).toContain('date not known, added')
  })

  test('a simulated session of a real dog is marked as such, one of the demo dog says so on its page', () => {
    show(SessionList, { sessions: [row({ sensor: 'simulated harness', fileName: null })] })
    expect(host.querySelector('.badge')?.textContent).toBe('simulated')
    if (shown) void unmount(shown)
    show(SessionList, { sessions: [row({ sensor: 'simulated harness', fileName: null })], demo: true })
    expect(host.querySelector('.badge')).toBeNull()
  })

  test('a running session leads to the live view and a failed one says why', () => {
    show(SessionList, {
      sessions: [
        row({ id: 'a', state: 'recording' }),
        row({ id: 'b', state: 'failed', problem: 'too short' }),
      ],
    })
    expect(host.querySelector('a[href="/live/a"]')).not.toBeNull()
    expect(text()).toContain('could not be analysed: too short')
  })

  test('hold time without marked hands is not passed off as hands-off', () => {
    show(SessionList, { sessions: [row({ handsOffHoldS: null, holdS: 21 })] })
    expect(text()).toContain('hands not marked')
  })
})

describe('chart of a dog', () => {
  const row = (extra: Partial<SessionSummary>) => ({ ...anySession(), ...extra })

  test('sessions without a noted set-up are points, never joined by a line', () => {
    show(SwayHistory, { sessions: [row({ id: 'a', setUp: null }), row({ id: 'b', setUp: null })] })
    expect(host.querySelectorAll('polyline')).toHaveLength(0)
    expect(text()).toContain('set-up not noted: single points')
    if (shown) void unmount(shown)
    show(SwayHistory, { sessions: [row({ id: 'a' }), row({ id: 'b' })] })
    expect(host.querySelectorAll('polyline')).toHaveLength(2)
  })

  test('simulated and undated sessions are left out, and it says so', () => {
    show(SwayHistory, {
      sessions: [
        row({ id: 'a' }),
        row({ id: 'b', sensor: 'simulated harness', fileName: null }),
        row({ id: 'c', startedAt: null }),
      ],
    })
    expect(text()).toContain('(1)')
    expect(text()).toContain('1 session is left out: simulated')
    expect(text()).toContain('1 session is left out: the date is not known')
  })

  test('a sway below what the sensor can measure is no point of it, and it says so', () => {
    const phone = { sensor: 'phone', fileName: null, resolutionMs2: 0.1 }
    show(SwayHistory, {
      sessions: [
        row({ id: 'a', ...phone, comparableSwayMs2: 0.0921 }),
        row({ id: 'b', ...phone, comparableSwayMs2: 0.0219 }),
        row({ id: 'c', ...phone, comparableSwayMs2: 0.0219, startedAt: null }),
      ],
      demo: true,
    })
    expect(text()).toContain('(1)')
    expect(text()).toContain('2 sessions are left out: sway below what the sensor can measure')
    expect(text()).not.toContain('21.9')
    expect(text()).not.toContain('the date is not known')
  })
})

describe('tremor in the table of holds', () => {
  const band = (reason: string, distinct = false) =>
    peakLines(
      {
        name: 'tremor',
        fromHz: 4,
        toHz: 12,
        rms: 0.009,
        peakHz: 6,
        distinct,
        lookalike: null,
        reason,
      } as BandReport,
      true,
    )

  test('said twice that no peak stands out', () => {
    const reason = 'no distinct peak: 1.2 times its background, 3.0 needed'
    expect(band(reason)).toEqual([reason])
  })

  test('says beside a peak what the sensor cannot tell', () => {
    expect(band('not clearly above this sensor’s noise', true)).toEqual([
      'peak 6.0 Hz',
      'not clearly above this sensor’s noise',
    ])
  })
})

describe('sway now', () => {
  const limit = sensorLimit({ resolutionMs2: 0.1 }, 'phone')
  const now = (swayMs2: number, floorMs2: number, told = limit) =>
    show(SwayBand, { swayMs2, floorMs2, state: 'steady', sensorLimit: told })

  test('is words where the steps of the sensor hide it, and so is the floor baseline', () => {
    now(0.0173, 0.0197)
    expect(host.querySelector('.number')?.textContent.trim()).toBe('below what this phone can measure')
    expect(text()).toContain('floor baseline of today is below what this phone can measure')
    expect(text()).not.toMatch(/17\.3|19\.7|× floor/)
    expect(host.querySelector('.bar')).toBeNull()
  })

  test('is no multiple of a hidden floor baseline', () => {
    now(0.0921, 0.0197)
    expect(host.querySelector('.number')?.textContent).toMatch(/^\s*92\.1\s+mm\/s²\s*$/)
    expect(host.querySelector('.bar')).toBeNull()
  })

  test('is a multiple of the floor for a sensor that states no steps', () => {
    now(0.04, 0.02, null)
    expect(host.querySelector('.number')?.textContent).toContain('floor')
    expect(host.querySelector('.bar')).not.toBeNull()
  })
})

describe('a recording whose sender is gone', () => {
  test('can be finished and kept from its page', async () => {
    history.replaceState(null, '', '/sessions/s')
    let state: SessionSummary['state'] = 'recording'
    const calls = stubApi({
      '/api/sessions/s': () => json({ ...anySession(), state }),
      '/api/sessions/s/finish': () => {
        state = 'analysing'
        return json({ ...anySession(), state })
      },
    })
    show(App)
    const finish = () =>
      [...host.querySelectorAll('button')].find((button) => button.textContent.includes('Finish and keep'))
    // The screen is loaded when it is first opened.
    await vi.waitFor(() => expect(finish()).toBeDefined(), { timeout: 10_000 })
    finish()?.click()
    await vi.waitFor(() => expect(text()).toContain('Being analysed'), SLOWLY)
    expect(calls).toContain('POST /api/sessions/s/finish')
  }, 20_000)

  test('is not finished over samples this device still keeps: it offers to send them first', async () => {
    unsentSessions.sessions = [
      {
        stream: 'a',
        sessionId: 's',
        dogId: 'd',
        dogName: 'Juniper',
        startedAt: '2026-11-25T10:00:00.000Z',
        unsentS: 12,
        state: 'waiting',
        message: null,
      },
    ]
    onTestFinished(() => void (unsentSessions.sessions = []))
    history.replaceState(null, '', '/sessions/s')
    stubApi({ '/api/sessions/s': () => json({ ...anySession(), state: 'recording' }) })
    show(App)
    await vi.waitFor(() => expect(text()).toContain('Watch it live'), { timeout: 10_000 })
    expect(text()).toContain('of this session are still on this device')
    expect(text()).toContain('Send them and finish')
    expect(text()).not.toContain('Finish and keep')
  }, 20_000)
})

describe('marks of a stored session', () => {
  const marks = [{ id: 'm1', atS: 65.5, kind: 'support-off' as const, note: null }]

  test('a mark is added at the picked moment', async () => {
    const onAdd = vi.fn(async () => {})
    show(MarkEditor, { marks, durationS: 120, pickedS: 70.25, onAdd, onRemove: async () => {} })
    expect(host.querySelector('input')?.value).toBe('1:10.3')
    host.querySelector('form')?.dispatchEvent(new Event('submit', { cancelable: true }))
    await vi.waitFor(() => expect(text()).toContain('Added: hands-off at 1:10.3'), SLOWLY)
    expect(onAdd).toHaveBeenCalledExactlyOnceWith(70.3, 'support-off')
  })

  test('a mark can be taken away; why it could not be is told', async () => {
    const onRemove = vi.fn(async () => {
      throw new Error('Not saved yet: kept on this device.')
    })
    show(MarkEditor, { marks, durationS: 120, pickedS: 0, onAdd: async () => {}, onRemove })
    expect(text()).toContain('1:05.5 hands-off')
    host.querySelector('li button')?.dispatchEvent(new Event('click', { bubbles: true }))
    await vi.waitFor(() => expect(text()).toContain('Not saved yet: kept on this device.'), SLOWLY)
    expect(onRemove).toHaveBeenCalledExactlyOnceWith('m1')
  })
})

describe('table of holds', () => {
  test('names end, interval, peak and look-alike in words', () => {
    const hold = anyHold()
    hold.endedBy = 'tilt'
    hold.sway.rmsInterval = [0.03, 0.05]
    hold.tremor.bands[0].lookalike = 'panting'
    hold.setBy = 'person'
    show(HoldTable, { holds: [hold], chosen: 0, onChoose() {} })
    expect(text()).toContain('set by a person')
    expect(text()).toContain('tilt (sat or leaned)')
    expect(text()).toContain('30.0 to 50.0')
    expect(text()).toContain('peak 6.2 Hz; looks like panting')
  })

  test('a tremor that cannot be measured gives its reason instead of a number', () => {
    const hold = anyHold()
    Object.assign(hold.tremor.bands[0], { rms: null, reason: 'the rate is too low' })
    show(HoldTable, { holds: [hold], chosen: 0, onChoose() {} })
    expect(text()).toContain('the rate is too low')
  })

  test('choosing a hold tells which', () => {
    const onChoose = vi.fn()
    show(HoldTable, { holds: [anyHold(), anyHold()], chosen: 0, onChoose })
    host.querySelectorAll('button')[1].click()
    expect(onChoose).toHaveBeenCalledWith(1)
  })
})

describe('state sign', () => {
  test('every state has a shape of its own besides its word', () => {
    const shapes = (['steady', 'moving', 'waiting', 'no signal'] as const).map((state) => {
      show(StateSign, { state })
      const shape = host.querySelector('svg')?.innerHTML
      expect(text()).toContain(state)
      if (shown) void unmount(shown)
      shown = null
      return shape
    })
    expect(new Set(shapes).size).toBe(4)
  })
})

describe('inputs beside a refused file', () => {
  const labels = () => [...host.querySelectorAll('label')].map((label) => label.textContent)
  const COLUMNS = ['Column of the time', 'Column of x', 'Column of y', 'Column of z']

  test('an unknown unit asks for the unit only', () => {
    const fields = $state<TraceFields>({})
    show(TraceMapping, { code: 'UNKNOWN_UNIT', fields })
    expect(labels()).toEqual(['Unit of the acceleration'])
    // Nothing is assumed of a unit the file does not say.
    expect(host.querySelector('option')?.textContent).toBe('Choose…')
    expect(host.querySelector('select')?.required).toBe(true)
  })

  test('a missing time asks for columns or rate', () => {
    const fields = $state<TraceFields>({})
    show(TraceMapping, { code: 'NO_TIME', fields })
    expect(labels()).toEqual([...COLUMNS, 'Samples per second'])
  })

  test('columns said in plain inputs become the mapping of the server', () => {
    const fields = $state<TraceFields>({})
    show(TraceMapping, { code: 'AMBIGUOUS_COLUMNS', fields })
    ;['time', '2', '3', 'acc, z'].forEach((value, k) => {
      const input = host.querySelectorAll('input')[k]
      input.value = value
      input.dispatchEvent(new Event('input', { bubbles: true }))
    })
    expect(fields.columns).toBe('t=time,ax=2,ay=3,az=acc, z')
  })

  test('the time alone was not enough: then every axis had to be said', () => {
    const fields = $state<TraceFields>({})
    show(TraceMapping, { code: 'NO_TIME', fields })
    const [time, x, y] = host.querySelectorAll('input')
    const type = (input: HTMLInputElement, value: string) => {
      input.value = value
      input.dispatchEvent(new Event('input', { bubbles: true }))
      flushSync()
    }
    type(time, 'Zeit')
    expect(fields.columns).toBe('t=Zeit')
    expect([x.required, y.required]).toEqual([false, false])
    type(x, 'a')
    expect([x.required, y.required]).toEqual([true, true])
  })

  test('a bad number asks for nothing: the file must be mended', () => {
    const fields = $state<TraceFields>({})
    show(TraceMapping, { code: 'BAD_NUMBER', fields })
    expect(labels()).toEqual([])
  })

  test('an answer given before stays to be changed', () => {
    const fields = $state<TraceFields>({ unit: 'mg' })
    show(TraceMapping, { code: 'NO_COLUMNS', fields })
    expect(labels()).toEqual(['Unit of the acceleration', ...COLUMNS])
  })
})
