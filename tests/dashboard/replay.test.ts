import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { formatEdf } from '#signal/trace/edf-write'
import { uniformStretches } from '#signal/trace/resample'
import type { Mark } from '#signal/trace/trace'
import { playable, previewOf } from '../../dashboard/sources/replay/playable.ts'
import type { Playable } from '../../dashboard/sources/replay/playable.ts'
import { Player } from '../../dashboard/sources/replay/player.ts'
import { problemOfTrace, readTrace } from '../../dashboard/sources/replay/read-trace.ts'
import { ReplaySource } from '../../dashboard/sources/replay/replay-source.ts'
import type { FromReplay, ToReplay } from '../../dashboard/sources/replay/replay.worker.ts'

const sample = (name: string) => new Uint8Array(readFileSync(`sample-traces/${name}`))
const read = (name: string) => readTrace(sample(name), {})
const bytesOf = (text: string) => new TextEncoder().encode(text)

interface Played {
  indices: number[]
  x: number[]
  marks: Mark[]
  ends: number
}

/** Plays a trace in steps of the given length, s, well past its end. */
function played(
  trace: Playable,
  stepS: number,
  options: { offset?: number; withMarks?: boolean } = {},
): Played {
  const got: Played = { indices: [], x: [], marks: [], ends: 0 }
  const player = new Player(
    trace,
    {
      samples(firstIndex, values) {
        values[0].forEach((value, i) => {
          got.indices.push(firstIndex + i)
          got.x.push(value)
        })
      },
      mark: (mark) => got.marks.push(mark),
      end: () => got.ends++,
    },
    options,
  )
  const endS = trace.endIndex / trace.rateHz + 2
  for (let i = 0; i * stepS <= endS; i++) player.advance(i * stepS)
  return got
}

describe('playable', () => {
  it('keeps every value of an even trace, at its own index', () => {
    const parsed = read('tremor.csv')
    const { runs, rateHz, endIndex } = playable(parsed)
    expect(rateHz).toBe(200)
    expect(runs).toHaveLength(1)
    expect(runs[0].values[2]).toEqual(parsed.trace.acc.z)
    expect(endIndex).toBe(parsed.trace.t.length)
    expect(previewOf(parsed, playable(parsed))).toMatchObject({
      unit: 'mg',
      samples: parsed.trace.t.length,
      resampled: false,
      gaps: 0,
    })
  })

  it('turns gaps into jumps of the index', () => {
    const parsed = read('radio-loss.csv')
    const shown = playable(parsed)
    const preview = previewOf(parsed, shown)
    expect(preview.gaps).toBeGreaterThan(3)
    expect(shown.runs.length).toBeGreaterThan(3)
    const { t } = parsed.trace
    for (const { firstIndex, values } of shown.runs) {
      // The run stands where its first sample stood, within half a period of the nominal rate.
      const nearest = t.reduce(
        (best, tS) => Math.min(best, Math.abs(tS * shown.rateHz - firstIndex)),
        Infinity,
      )
      expect(nearest).toBeLessThanOrEqual(0.5 + 1e-6)
      expect(values[0].length).toBeGreaterThan(0)
    }
  })

  it('puts an uneven trace on a grid as the analysis does, and says so', () => {
    const parsed = read('phone.csv')
    const shown = playable(parsed)
    expect(previewOf(parsed, shown).resampled).toBe(true)
    const { stretches } = uniformStretches(parsed.trace, {
      rateHz: parsed.trace.rateHz,
      stampResolutionS: parsed.stampResolutionS,
    })
    expect(shown.runs.map(({ values }) => values[0])).toEqual(stretches.map(({ acc }) => acc.x))
  })
})

describe('Player', () => {
  it.each([0.01, 0.1, 0.37])('gives every sample once and in order, in steps of %f s', (stepS) => {
    const shown = playable(read('radio-loss.csv'))
    const got = played(shown, stepS)
    expect(got.indices).toEqual(
      shown.runs.flatMap(({ firstIndex, values }) => [...values[0].keys()].map((i) => firstIndex + i)),
    )
    expect(got.x).toEqual(shown.runs.flatMap(({ values }) => [...values[0]]))
    expect(got.ends).toBe(1)
  })

  it('gives nothing before its time', () => {
    const shown = playable(read('tremor.csv'))
    const got: number[] = []
    const player = new Player(shown, {
      samples: (firstIndex, values) => got.push(firstIndex + values[0].length),
      mark: () => undefined,
      end: () => undefined,
    })
    player.advance(0)
    expect(got).toEqual([1])
    player.advance(1)
    expect(got.at(-1)).toBe(201)
  })

  it('gives the marks of the file at their times, moved with the samples when played again', () => {
    const parsed = read('tremor.csv')
    const shown = playable(parsed)
    expect(parsed.trace.marks.length).toBeGreaterThan(1)
    expect(played(shown, 0.1).marks).toEqual(parsed.trace.marks)
    const again = played(shown, 0.1, { offset: 400 })
    expect(again.indices[0]).toBe(400)
    expect(again.marks.map(({ atS }) => atS)).toEqual(parsed.trace.marks.map(({ atS }) => atS + 2))
    expect(played(shown, 0.1, { withMarks: false }).marks).toEqual([])
  })
})

describe('readTrace', () => {
  it('reads EDF+ by its first bytes and UTF-16 by its byte order mark', () => {
    const parsed = read('tremor.csv')
    const edf = formatEdf({ ...uniformStretches(parsed.trace), marks: [], startedAtUs: null })
    expect(readTrace(edf, {}).trace.t.length).toBe(parsed.trace.t.length)
    const text = new TextDecoder().decode(sample('tremor.csv'))
    const utf16 = new Uint8Array(Uint16Array.from(`\ufeff${text}`, (letter) => letter.charCodeAt(0)).buffer)
    expect(readTrace(utf16, {}).trace.acc.x).toEqual(parsed.trace.acc.x)
  })

  it('refuses with the words, the place and the code that an upload gets', () => {
    const refusal = (text: string) => {
      try {
        readTrace(bytesOf(text), {})
      } catch (error) {
        return problemOfTrace(error)
      }
      return null
    }
    const cell = refusal(new TextDecoder().decode(sample('bad/text-in-a-cell.csv')))
    expect(cell).toMatchObject({ status: 422, code: 'BAD_NUMBER', line: expect.any(Number) })
    expect(cell!.detail).toContain(cell!.remedy)
    expect(refusal('')).toMatchObject({ code: 'EMPTY' })
    expect(problemOfTrace(new Error('other'))).toBeNull()
  })

  it('takes what a person adds about unit, rate and columns', () => {
    const text = `a;b;c\n${Array.from({ length: 200 }, () => '0;0;1').join('\n')}`
    const parsed = readTrace(bytesOf(text), { unit: 'g', rateHz: '50', columns: 'ax=a,ay=b,az=c' })
    expect(parsed.trace).toMatchObject({ rateHz: 50 })
    expect(parsed.trace.acc.z[0]).toBeCloseTo(9.80665, 5)
  })
})

describe('ReplaySource', () => {
  function made() {
    const posted: ToReplay[] = []
    const worker = {
      onmessage: null as ((event: { data: FromReplay }) => void) | null,
      onerror: null as ((event: { message: string }) => void) | null,
      terminated: false,
      postMessage: (message: ToReplay) => posted.push(message),
      terminate() {
        this.terminated = true
      },
    }
    const source = new ReplaySource('tremor.csv', () => worker as unknown as Worker)
    const heard: unknown[] = []
    const handlers = {
      onInfo: (info: unknown) => heard.push(info),
      onPacket: ({ firstIndex }: { firstIndex: number }) => heard.push(firstIndex),
      onState: ({ phase }: { phase: string }) => heard.push(phase),
      onMark: ({ kind }: Mark) => heard.push(kind),
      onEnd: () => heard.push('end'),
    }
    const tell = (data: FromReplay) => worker.onmessage!({ data })
    const parsed = read('tremor.csv')
    const preview = previewOf(parsed, playable(parsed))
    return { source, worker, posted, heard, handlers, tell, preview }
  }
  const samples = (take: number, firstIndex: number): FromReplay => ({
    type: 'samples',
    take,
    firstIndex,
    values: [0, 0, 0].map(() => new Float64Array(10)),
  })

  it('says what it plays, and plays without marks while it is only watched', async () => {
    const { source, posted, heard, handlers, tell, preview } = made()
    const outcome = source.read(new ArrayBuffer(0), {})
    tell({ type: 'read', preview, channels: 3 })
    expect(await outcome).toEqual({ preview })
    source.start(handlers)
    expect(heard[0]).toMatchObject({ nominalRateHz: 200, channels: 3 })
    expect(posted.at(-1)).toEqual({ type: 'play', withMarks: false, take: 1 })
  })

  it('begins anew with the recording, and drops what was on its way from before', async () => {
    const { source, posted, heard, handlers, tell, preview } = made()
    const outcome = source.read(new ArrayBuffer(0), {})
    tell({ type: 'read', preview, channels: 3 })
    await outcome
    source.start(handlers)
    tell(samples(1, 0))
    source.recordingBegins()
    expect(posted.at(-1)).toEqual({ type: 'play', withMarks: true, take: 2 })
    tell(samples(1, 10))
    tell({ type: 'end', take: 1 })
    tell(samples(2, 20))
    tell({ type: 'mark', take: 2, mark: { atS: 0.1, kind: 'quiet-stand-start' } })
    expect(heard.slice(2)).toEqual([0, 20, 'quiet-stand-start'])
  })

  it('plays with marks at once when it is recorded from the start', async () => {
    const { source, posted, handlers, tell, preview } = made()
    const outcome = source.read(new ArrayBuffer(0), {})
    tell({ type: 'read', preview, channels: 3 })
    await outcome
    source.recordingBegins()
    source.start(handlers)
    expect(posted.at(-1)).toEqual({ type: 'play', withMarks: true, take: 1 })
  })

  it('tells when its Worker fails, and ends it at stop', async () => {
    const { source, worker, heard, handlers, tell, preview } = made()
    const outcome = source.read(new ArrayBuffer(0), {})
    tell({ type: 'read', preview, channels: 3 })
    await outcome
    source.start(handlers)
    worker.onerror!({ message: 'out of memory' })
    expect(heard.at(-1)).toBe('failed')
    source.stop()
    expect(worker.terminated).toBe(true)
  })
})
