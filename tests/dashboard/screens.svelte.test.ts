import { flushSync, mount, unmount } from 'svelte'
import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest'
import type { SessionSummary } from '#protocol/resources'
import App from '../../dashboard/App.svelte'
import HoldTable from '../../dashboard/components/HoldTable.svelte'
import SessionList from '../../dashboard/components/SessionList.svelte'
import StateSign from '../../dashboard/components/StateSign.svelte'
import TraceMapping from '../../dashboard/components/TraceMapping.svelte'
import type { TraceFields } from '../../dashboard/lib/upload.ts'
import { anyHold, anySession } from './fakes/records.ts'

// uPlot needs a real canvas: in this DOM it fails after the test that made it.
vi.mock('../../dashboard/lib/time-chart', () => ({
  createTimeChart: async () => ({ setRange() {}, choose() {}, destroy() {} }),
}))

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
    await vi.waitFor(() => expect(text()).toContain('Set up a dog'))
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
    await vi.waitFor(() => expect(text()).toContain('The dogs could not be loaded'))
    expect(text()).toContain('The Swaybook server cannot be reached')
    up = true
    const again = [...host.querySelectorAll('button')].find((button) => button.textContent === 'Try again')
    again?.click()
    await vi.waitFor(() => expect(text()).toContain('Set up a dog'))
    expect(text()).not.toContain('could not be loaded')
  })

  test('opening the demo dog leads to her screen', async () => {
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
    await vi.waitFor(() => expect(text()).toContain('Look around'))
    const demo = [...host.querySelectorAll('button')].find((button) =>
      button.textContent.includes('Look around'),
    )
    demo?.click()
    await vi.waitFor(() => expect(text()).toContain('No sessions yet'))
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
        row({ id: 'new', startedAt: '2026-04-01T10:00:00Z', swayMs2: 0.0421, verdict: 'usable' }),
      ],
    })
    const links = [...host.querySelectorAll('a')].map((link) => link.getAttribute('href'))
    expect(links).toEqual(['/sessions/new', '/sessions/old'])
    expect(text()).toContain('42.1 mm/s²')
    expect(text()).toContain('Usable, with limits')
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

describe('table of holds', () => {
  test('names end, interval, peak and look-alike in words', () => {
    const hold = anyHold()
    hold.endedBy = 'tilt'
    hold.sway.rmsInterval = [0.03, 0.05]
    hold.tremor.bands[0].lookalike = 'panting'
    show(HoldTable, { holds: [hold], chosen: 0, onChoose() {} })
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

  test('an unknown unit asks for the unit only', () => {
    const fields = $state<TraceFields>({})
    show(TraceMapping, { code: 'UNKNOWN_UNIT', fields })
    expect(labels()).toEqual(['Unit of the acceleration'])
  })

  test('a missing time asks for columns or rate', () => {
    const fields = $state<TraceFields>({})
    show(TraceMapping, { code: 'NO_TIME', fields })
    expect(labels()).toEqual(['Columns', 'Samples per second'])
  })

  test('a bad number asks for nothing: the file must be mended', () => {
    const fields = $state<TraceFields>({})
    show(TraceMapping, { code: 'BAD_NUMBER', fields })
    expect(labels()).toEqual([])
  })

  test('an answer given before stays to be changed', () => {
    const fields = $state<TraceFields>({ unit: 'mg' })
    show(TraceMapping, { code: 'NO_COLUMNS', fields })
    expect(labels()).toEqual(['Unit of the acceleration', 'Columns'])
  })
})
