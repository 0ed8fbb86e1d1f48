import { describe, expect, test } from 'vitest'
import type { ServerToViewer } from '#protocol/messages'
import { LivePipeline } from '#signal/live/pipeline'
import type { LiveWindow } from '#signal/live/live-types'
import { parseMount } from '#signal/mount/mount'
import { liveDemoScript } from '#signal/simulator/live-demo'
import { simulateSession } from '#signal/simulator/session'
import { Anchor } from '../../dashboard/recorder/anchor.ts'
import { LocalAnalyser } from '../../dashboard/recorder/local-analyser.ts'
import type { RecordingPlan } from '../../dashboard/recorder/messages.ts'
import { anyPlan } from './fakes/records.ts'

const SECONDS = 60
const PACKET = 10
const { trace } = simulateSession(liveDemoScript(4))
const n = SECONDS * trace.rateHz
const marks = trace.marks.filter(({ atS }) => atS < SECONDS)
const part = (fromIndex: number, toIndex: number) =>
  [trace.acc.x, trace.acc.y, trace.acc.z].map((axis) => axis.slice(fromIndex, toIndex))

const recording: RecordingPlan = {
  session: {
    id: 's'.repeat(16),
    dogId: 'd',
    sensor: 'simulated harness',
    mount: 'x=cranial,y=left,z=dorsal',
  },
  dogName: 'Juniper',
  stream: 'stream-a',
  rateHz: trace.rateHz,
  channels: 3,
  startedAtUs: 0,
  plan: null,
}

function analysed(packet: number) {
  const told: ServerToViewer[] = []
  const analyser = new LocalAnalyser(recording, (message) => told.push(message), new Anchor(0, 0))
  // All at once and before their samples: each must wait for its own.
  marks.forEach(({ atS, kind, note }, i) => analyser.mark({ id: `m${i}`, atS, kind, note: note ?? null }))
  for (let from = 0; from < n; from += packet)
    analyser.push(from, part(from, Math.min(n, from + packet)), from)
  analyser.finish()
  return { told, analyser }
}

/** The pipeline of the server, fed with everything in order. */
function expected() {
  const windows: LiveWindow[] = []
  const nothing = () => {}
  const pipeline = new LivePipeline({
    rateHz: trace.rateHz,
    mount: parseMount('x=cranial,y=left,z=dorsal'),
    sink: {
      onWindow: (window) => windows.push(window),
      onHold: nothing,
      onReference: nothing,
      onStrip: nothing,
      onStop: nothing,
    },
  })
  let given = 0
  for (let from = 0; from < n; from += PACKET) {
    const [x, y, z] = part(from, from + PACKET)
    pipeline.push(from, { x, y, z })
    while (given < marks.length && marks[given].atS <= (from + PACKET) / trace.rateHz)
      pipeline.mark(marks[given++])
  }
  pipeline.finish()
  return { windows, pipeline }
}

const snapshotOf = (analyser: LocalAnalyser, told: ServerToViewer[]) => {
  analyser.show()
  const last = told.findLast((message) => message.type === 'snapshot')
  if (!last) throw new Error('no snapshot was told')
  return last
}

describe('the analyser of this device', () => {
  test('tells every window, and holds and reference as the pipeline has them', () => {
    const { told, analyser } = analysed(PACKET)
    const { windows, pipeline } = expected()
    const messages = told.filter((message) => message.type === 'window')
    expect(messages.map(({ window }) => window)).toEqual(windows)
    const { holds, reference, receivedS, headingResolved } = snapshotOf(analyser, told)
    expect(holds.length).toBeGreaterThan(1)
    expect({ holds, reference, receivedS, headingResolved }).toEqual({
      holds: pipeline.holds,
      reference: pipeline.reference,
      receivedS: SECONDS,
      headingResolved: true,
    })
  })

  test('goes by half of the plan when it is to be less today, and says so beside every cue', () => {
    const plan = anyPlan()
    const session = { ...recording.session, planned: { planVersion: plan.version, exerciseId: 'pad' } }
    const limitsOf = (cutBack: boolean) => {
      const told: ServerToViewer[] = []
      const given = { ...recording, session, plan, cutBack }
      return snapshotOf(new LocalAnalyser(given, (message) => told.push(message), new Anchor(0, 0)), told)
    }
    expect(limitsOf(false)).toMatchObject({
      planned: { holdTargetS: 8, repetitions: 3 },
      limits: { sessionCapS: 300, maxRepetitions: 3, basis: 'plan version 2, set by Rowan Vale' },
    })
    expect(limitsOf(true)).toMatchObject({
      planned: { holdTargetS: 4, repetitions: 1 },
      limits: {
        sessionCapS: 150,
        maxRepetitions: 1,
        swayRatio: 1.5,
        basis: 'plan version 2, set by Rowan Vale, cut back today',
      },
    })
  })

  test('tells the waveform without a hole', () => {
    const { told } = analysed(PACKET)
    const strips = told.flatMap((message) => (message.type === 'window' ? message.strips : []))
    const covered = strips.reduce((sum, { ml, stepS }) => sum + ml.length * stepS, 0)
    expect(covered).toBeCloseTo(strips.at(-1)!.fromS + strips.at(-1)!.ml.length * strips.at(-1)!.stepS, 6)
    // What waited for a next window at the end is at most one window.
    expect(covered).toBeGreaterThan(SECONDS - 1)
  })

  test('a backlog is told as the session so far and its newest window', () => {
    const { told } = analysed(20 * trace.rateHz)
    const kinds = told.filter(({ type }) => type === 'snapshot' || type === 'window').map(({ type }) => type)
    expect(kinds).toContain('snapshot')
    expect(kinds.filter((type) => type === 'window').length).toBeLessThan(60)
  })

  test('a mark that is known already changes nothing', () => {
    const { told, analyser } = analysed(PACKET)
    const before = told.length
    analyser.mark({ id: 'm0', atS: 1, kind: 'note', note: null })
    expect(told.length).toBe(before)
    expect(snapshotOf(analyser, told).marks).toHaveLength(marks.length)
  })
})
