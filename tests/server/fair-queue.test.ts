import fc from 'fast-check'
import { describe, expect, it, onTestFinished } from 'vitest'
import { FairQueue } from '#server/analysis/fair-queue'
import { AnalysisPool } from '#server/analysis/pool'
import { Room } from '#server/room'
import { madeTrace } from '../signal/trace/made-trace.ts'

const anybody = () => true

describe('a fair queue', () => {
  it('serves people in turn and each of them in order', () => {
    const queue = new FairQueue<string>()
    for (const item of ['a1', 'a2', 'a3', 'b1', 'c1', 'b2']) queue.add(item[0], item)
    const order = Array.from({ length: 6 }, () => queue.next(anybody))
    expect(order).toEqual(['a1', 'b1', 'c1', 'a2', 'b2', 'a3'])
    expect(queue.next(anybody)).toBeNull()
  })

  it('passes over who may not, and keeps their place', () => {
    const queue = new FairQueue<string>()
    for (const item of ['a1', 'b1', 'b2']) queue.add(item[0], item)
    const notA = (_: string, who: string) => who !== 'a'
    expect([queue.next(notA), queue.next(anybody), queue.next(notA), queue.next(notA)]).toEqual([
      'b1',
      'a1',
      'b2',
      null,
    ])
  })

  it('loses and doubles nothing, and between two turns of one nobody else who waits is left out', () => {
    fc.assert(
      fc.property(fc.array(fc.constantFrom('a', 'b', 'c', 'd'), { maxLength: 40 }), (people) => {
        const queue = new FairQueue<{ who: string; k: number }>()
        people.forEach((who, k) => queue.add(who, { who, k }))
        const served: { who: string; k: number }[] = []
        for (;;) {
          const waiting = [...new Set(people)].filter((who) => queue.sizeOf(who) > 0)
          const next = queue.next(anybody)
          if (!next) break
          const sinceLast = served.slice(served.findLastIndex(({ who }) => who === next.who) + 1)
          const servedBefore = served.some(({ who }) => who === next.who)
          const others = waiting.filter((who) => who !== next.who)
          if (servedBefore) for (const who of others) expect(sinceLast.map((item) => item.who)).toContain(who)
          served.push(next)
        }
        expect(served.map(({ k }) => k).sort((a, b) => a - b)).toEqual(people.map((_, k) => k))
      }),
      { numRuns: 300, seed: 20261127 },
    )
  })
})

describe('the analysis pool', () => {
  const file = { kind: 'file', bytes: Buffer.from('nothing to read'), file: 'x', mount: 'auto' } as const

  it('lets one file of another person pass a hundred of one', async () => {
    const pool = new AnalysisPool({ analysisMs: 30_000, analysisHeapMb: 256 }, 1)
    onTestFinished(() => pool.close())
    const order: string[] = []
    const ran = (who: string) => pool.run(file, who).catch(() => order.push(who))
    await Promise.all([...Array.from({ length: 100 }, () => ran('many')), ran('one')])
    expect(order).toHaveLength(101)
    expect(order.indexOf('one')).toBeLessThanOrEqual(2)
  })

  it('takes a hundred waiting files of one person, two hundred of all, and goes on with recordings', async () => {
    const pool = new AnalysisPool({ analysisMs: 30_000, analysisHeapMb: 256 }, 1)
    const refused: unknown[] = []
    const ended: Promise<unknown>[] = []
    const ran = (who: string) =>
      ended.push(pool.run(file, who).catch((error: Error) => refused.push(error.message)))
    for (const who of ['a', 'b', 'c']) for (let k = 0; k < 102; k++) ran(who)
    // A recording that was finished cannot be sent again: it waits, however many do.
    const csv = await pool.run({ kind: 'csv', trace: madeTrace([0, 0.01, 0.02], 100) })
    expect(csv.csv).toContain('0.01')
    await pool.close()
    await Promise.all(ended)
    const busy = refused.filter((message) => /waiting to be analysed/.test(String(message)))
    // One of a runs at once; of the others a and b have a hundred waiting, c none.
    expect(busy).toHaveLength(306 - 201)
  })
})

describe('room', () => {
  it('has a whole and a share for each, and is given back once', () => {
    const room = new Room(10, 5)
    const leave = room.take('a', 4)!
    expect(room.take('a', 2)).toBeNull()
    expect(room.take('b', 5)).not.toBeNull()
    expect(room.take('c', 2)).toBeNull()
    leave()
    leave()
    expect(room.take('c', 5)).not.toBeNull()
    expect(room.take('a', 1)).toBeNull()
  })
})
