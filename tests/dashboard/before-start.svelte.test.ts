import { flushSync, mount, unmount } from 'svelte'
import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest'
import { doseAdvice } from '#protocol/dose-advice'
import { cutBackPlan } from '#protocol/cut-back'
import type { SessionSummary } from '#protocol/resources'
import type { LiveLink, LiveLinkHandlers } from '../../dashboard/lib/live-link.ts'
import CheckInPart from '../../dashboard/components/before/CheckInPart.svelte'
import TodaysChoice from '../../dashboard/components/before/TodaysChoice.svelte'
import SensorChoice from '../../dashboard/components/before/SensorChoice.svelte'
import SetUpConfirm from '../../dashboard/components/before/SetUpConfirm.svelte'
import TodaysPlan from '../../dashboard/components/before/TodaysPlan.svelte'
import QuietStand from '../../dashboard/components/hold/QuietStand.svelte'
import { sensorLimit } from '../../dashboard/lib/sensor-limit.ts'
import StopPanel from '../../dashboard/components/hold/StopPanel.svelte'
import PlanVersion from '../../dashboard/components/plan/PlanVersion.svelte'
import { LiveSession } from '../../dashboard/lib/live-session.svelte.ts'
import { doseInput } from '../../dashboard/lib/check-in-words.ts'
import { bodyUnits } from '../../dashboard/lib/preferences.svelte.ts'
import type { SourceChoice } from '../../dashboard/sources/source.ts'
import FakeSetup from './fakes/FakeSetup.svelte'
import { anyPlan, anySession } from './fakes/records.ts'

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
function show(component: any, props: object) {
  shown = mount(component, { target: host, props })
  flushSync()
}
const text = () => host.textContent.replace(/\s+/g, ' ')
function press(name: string) {
  const button = [...host.querySelectorAll('button')].find((one) => one.textContent.trim() === name)
  if (!button) throw new Error(`no button ${name} in: ${text()}`)
  button.click()
  flushSync()
}

describe('the morning after', () => {
  const now = new Date(2026, 2, 5, 12)
  const given = (session: Partial<SessionSummary>, plans = [anyPlan()]) =>
    doseInput([{ ...anySession(), ...session }], plans, { demo: false, now })
  const answered = (answer: 'tired' | 'sore' | 'normal') => ({
    startedAt: new Date(2026, 2, 4, 10).toISOString(),
    checkIn: { answer, note: null, at: '2026-03-05T08:00:00Z', version: 3 },
  })

  test('is asked by the day of the session and answered in one tap, with four answers', async () => {
    const calls: unknown[] = []
    vi.stubGlobal('fetch', async (url: string, init: RequestInit) => {
      const headers = init.headers as Record<string, string>
      calls.push([init.method, url, JSON.parse(init.body as string), headers['if-none-match']])
      return new Response('{}')
    })
    const onSaved = vi.fn(async () => {})
    // 3 March 2026 is a Tuesday.
    const input = given({ startedAt: new Date(2026, 2, 3, 10).toISOString() })
    show(CheckInPart, { dogName: 'Juniper', input, onSaved })
    expect(text()).toContain('How was Juniper the morning after Tuesday’s session')
    expect(host.querySelectorAll('.answers button')).toHaveLength(4)
    press('Sore')
    await vi.waitFor(() => expect(onSaved).toHaveBeenCalledOnce())
    // Only when nobody has answered meanwhile.
    expect(calls).toEqual([['PUT', '/api/sessions/s/check-in', { answer: 'sore' }, '*']])
  })

  test('a refused answer says why and can be given again', async () => {
    vi.stubGlobal('fetch', async () => {
      throw new TypeError('refused')
    })
    const input = given({ startedAt: new Date(2026, 2, 4, 10).toISOString() })
    show(CheckInPart, { dogName: 'Juniper', input, onSaved: async () => {} })
    press('Normal')
    await vi.waitFor(() => expect(text()).toContain('cannot be reached'))
    expect(host.querySelector('button')?.disabled).toBe(false)
  })

  test('an answer can be changed later, names the version it replaces, and tells of another device’s', async () => {
    const conflict = { status: 412, code: 'RECORD_CHANGED', detail: 'It is another one by now.', version: 4 }
    let ifMatch: string | undefined
    vi.stubGlobal('fetch', async (_: string, init: RequestInit) => {
      ifMatch = (init.headers as Record<string, string>)['if-match']
      return new Response(JSON.stringify(conflict), { status: 412 })
    })
    show(CheckInPart, { dogName: 'Juniper', input: given(answered('tired')), onSaved: async () => {} })
    expect(text()).toContain('Last answer: tired')
    press('Change the answer')
    expect(host.querySelector('[aria-pressed=true]')?.textContent).toBe('Tired')
    press('Normal')
    await vi.waitFor(() => expect(ifMatch).toBe('"3"'))
  })

  test('the advice has its basis with every line, and a way out of today comes first', () => {
    const advice = doseAdvice(given(answered('tired')))
    const onChoose = vi.fn()
    show(TodaysChoice, { dogId: 'd', advice, planned: true, chosen: null, onChoose })
    expect(text()).toContain("at most 1 of the plan's 3 repetitions")
    for (const line of host.querySelectorAll('li'))
      expect(line.textContent).toMatch(/\((plan|common practice)/)
    const [out, less, own] = host.querySelectorAll<HTMLElement>('.choices > *')
    expect([out.textContent, out.getAttribute('href')]).toEqual(['Leave it out today', '/dogs/d'])
    less.click()
    own.click()
    expect(onChoose.mock.calls).toEqual([['less'], ['plan']])
  })

  test('after "sore" going on needs the word of the vet or the therapist', () => {
    const advice = doseAdvice(given(answered('sore')))
    show(TodaysChoice, { dogId: 'd', advice, planned: true, chosen: null, onChoose() {} })
    const names = [...host.querySelectorAll('.choices > *')].map((choice) => choice.textContent.trim())
    expect(names).toEqual([
      'Leave it out today',
      'They said to go on, with less',
      'The therapist said: the plan’s own numbers',
    ])
  })
})

describe('today’s plan', () => {
  const nothing = { today: 0, daysThisWeek: 0, byExercise: new Map<string, number>() }
  const props = { dogId: 'd', chosen: 'pad', onChoose() {} }

  test('says what is done against what is allowed, and to rest when it is', () => {
    const plan = anyPlan()
    show(TodaysPlan, { ...props, plan, today: plan, progress: { ...nothing, today: 1, daysThisWeek: 3 } })
    expect(text()).not.toContain('today:')
    expect(text()).toContain('1 of 1 today, 3 of 5 days this week')
    expect(text()).toContain('the plan says to rest')
    expect(text()).toContain('set by Rowan Vale')
  })

  test('cut back shows the smaller numbers of today beside those of the plan', () => {
    const today = cutBackPlan(anyPlan())
    show(TodaysPlan, { ...props, plan: anyPlan(), today, progress: nothing })
    expect(text()).toContain('a session up to 2:30')
    expect(text()).toContain('today: holds of 4 s, 1 repetition (plan: holds of 8 s, 3 repetitions)')
    expect(text()).toContain('today: holds of 2.5 s, 1 repetition (plan: holds of 5 s, 2 repetitions)')
  })

  test('without one says what the limits are and leads to the form', () => {
    show(TodaysPlan, { ...props, plan: null, today: null, progress: nothing })
    expect(text()).toContain('common practice')
    expect(host.querySelector('a')?.getAttribute('href')).toBe('/dogs/d/plan')
  })

  test('an exercise is chosen by its id, one outside the plan by none', () => {
    const onChoose = vi.fn()
    const plan = anyPlan()
    show(TodaysPlan, { ...props, onChoose, plan, today: plan, progress: nothing })
    const radios = host.querySelectorAll<HTMLInputElement>('input[type=radio]')
    for (const k of [1, 2]) radios[k].dispatchEvent(new Event('change', { bubbles: true }))
    expect(onChoose.mock.calls).toEqual([['board'], [null]])
  })

  test('a plan with every rule off says so', () => {
    const stopRules = { swayRatio: null, holdRatio: null, supportRise: null }
    show(PlanVersion, { plan: { ...anyPlan(), stopRules } })
    expect(text()).toContain('say nothing about stopping')
  })
})

describe('set-up', () => {
  const last = { ...anySession(), setUp: { exercise: 'stand', surface: 'pad', foreToHindCm: 45 } }

  test('the same as last time is one tap', () => {
    const onConfirmed = vi.fn()
    show(SetUpConfirm, { last, planned: null, onConfirmed })
    expect(text()).toContain('Same as last time?')
    expect(text()).not.toContain('trend line')
    press('Yes, exactly so')
    expect(onConfirmed).toHaveBeenLastCalledWith(last.setUp)
  })

  test('another one says that it makes a trend line of its own, and nothing is confirmed meanwhile', () => {
    const onConfirmed = vi.fn()
    bodyUnits.value = 'metric'
    show(SetUpConfirm, { last, planned: { ...last.setUp, foreToHindCm: 50 }, onConfirmed })
    expect(text()).toContain('makes a trend line of its own')
    press('Change')
    expect(onConfirmed).toHaveBeenLastCalledWith(null)
    expect(host.querySelectorAll('input')[2].value).toBe('50')
  })
})

describe('list of sensors', () => {
  const source = (extra: Partial<SourceChoice>): SourceChoice => ({
    sensor: 'bluetooth',
    order: 1,
    title: 'Bluetooth sensor',
    explanation: 'Needs a sensor.',
    unavailable: () => null,
    Setup: async () => ({ default: FakeSetup }),
    ...extra,
  })
  const props = { dogId: 'd', openSession: async () => ({ id: 'x' }), onready() {}, onremote() {} }

  test('one that this browser cannot use says why and cannot be chosen', () => {
    const phone = source({ sensor: 'phone', order: 2, title: 'Phone', unavailable: () => 'Needs https.' })
    show(SensorChoice, { ...props, sources: [source({}), phone] })
    expect(text()).toContain('Needs https.')
    const [first, second] = host.querySelectorAll('input')
    expect([first.disabled, second.disabled]).toEqual([false, true])
  })

  test('loads the part of the chosen one and hears when it is ready', async () => {
    const onready = vi.fn()
    show(SensorChoice, { ...props, onready, sources: [source({})] })
    await vi.waitFor(() => expect(text()).toContain('Use the fake'))
    press('Use the fake')
    expect(onready).toHaveBeenCalledOnce()
  })

  test('a part that cannot be loaded says so', async () => {
    const broken = source({ Setup: () => Promise.reject(new Error('offline')) })
    show(SensorChoice, { ...props, sources: [broken] })
    await vi.waitFor(() => expect(text()).toContain('could not be loaded: offline'))
  })
})

describe('stop cue', () => {
  test('has its reason, its basis and what the dog does now, and can be seen', () => {
    const onSeen = vi.fn()
    const stop = { reason: 'sway', atS: 90, value: 1.7, limit: 1.5 }
    show(StopPanel, { stop, limits: { basis: 'plan version 2' }, state: 'steady', onSeen })
    expect(text()).toContain('This hold sways 1.7 times as much as the first; the limit is 1.5.')
    expect(text()).toContain('Limit: plan version 2. Now: steady.')
    press('Seen')
    expect(onSeen).toHaveBeenCalledOnce()
  })
})

describe('quiet stand', () => {
  function watched() {
    const sent: { kind: string; atS: number }[] = []
    const parts: { handlers?: LiveLinkHandlers } = {}
    const link: LiveLink = {
      local: true,
      open(given) {
        parts.handlers = given
        given.onStatus('open')
        given.onOpen()
      },
      send(message) {
        if (message.type === 'mark') sent.push(message)
        return true
      },
      retryNow() {},
      close() {},
    }
    const session = new LiveSession(link)
    session.start()
    const receive = (message: object) => {
      parts.handlers?.onMessage(message as Parameters<LiveLinkHandlers['onMessage']>[0])
      flushSync()
    }
    const none = { planned: null, limits: null, stops: [], strips: [], history: [], holds: [], marks: [] }
    receive({
      type: 'snapshot',
      dogName: 'Juniper',
      headingResolved: true,
      reference: null,
      window: null,
      ...none,
    })
    const windowAt = (endS: number, swayMs2: number) =>
      receive({
        type: 'window',
        window: {
          index: 0,
          endS,
          state: 'waiting',
          holdS: 0,
          motion: null,
          tiltDeg: null,
          swayMs2,
          tremorMs2: null,
          coverage: 1,
        },
        strips: [],
        sampleArrivedAtUs: 0,
        serverTimeUs: 0,
      })
    return { session, sent, windowAt }
  }

  test('is marked by the person, ends by itself after 10 s of stillness and can be done again', () => {
    const { session, sent, windowAt } = watched()
    const onDone = vi.fn()
    windowAt(5, 0.02)
    show(QuietStand, { session, onDone })
    expect(text()).toContain('Still enough')
    press('The dog stands square')
    expect(sent.map(({ kind }) => kind)).toEqual(['quiet-stand-start'])
    for (let endS = 6; endS <= 12; endS++) windowAt(endS, 0.02)
    expect(text()).toMatch(/Standing quietly: [67] of 10 s/)
    windowAt(13, 0.9)
    expect(text()).toContain('The dog moved')
    for (let endS = 14; endS <= 25; endS++) windowAt(endS, 0.02)
    expect(text()).toContain('Done: 10 s')
    expect(sent.map(({ kind }) => kind)).toEqual([
      'quiet-stand-start',
      'quiet-stand-start',
      'quiet-stand-end',
    ])
    expect(onDone).toHaveBeenCalledOnce()
    press('Do it once more')
    expect(sent.at(-1)?.kind).toBe('quiet-stand-start')
    session.close()
  })

  test('tells a sway that the steps of the sensor hide in words, not as a number', () => {
    const { session, windowAt } = watched()
    windowAt(5, 0.0173)
    show(QuietStand, { session, sensorLimit: sensorLimit({ resolutionMs2: 0.1 }, 'phone') })
    expect(text()).toContain('Still enough')
    expect(text()).toContain('sway now below what this phone can measure')
    expect(text()).not.toContain('17.3')
    windowAt(6, 0.0921)
    expect(text()).toContain('sway now 92.1 mm/s²')
    session.close()
  })

  test('of a played session is marked by nobody here, and says when there is none', () => {
    const { session, windowAt } = watched()
    windowAt(1, 0.02)
    show(QuietStand, { session, marksItself: true })
    expect(text()).toContain('Waiting for the quiet stand to be marked')
    windowAt(9, 0.02)
    expect(text()).toContain('go on to the hold view')
    expect(host.querySelector('button')).toBeNull()
    session.close()
  })
})
