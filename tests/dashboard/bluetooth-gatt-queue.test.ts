import { describe, expect, test } from 'vitest'
import { GattClosed, GattQueue, GattTimeout } from '../../dashboard/sources/bluetooth/gatt-queue.ts'
import { FakeTime, settled } from './fakes/fake-time.ts'

/** A promise that the test settles. */
function pending() {
  let resolve: () => void = () => {}
  const promise = new Promise<void>((ok) => (resolve = ok))
  return { promise, resolve }
}

describe('the queue of GATT operations', () => {
  test('begins an operation only when the one before is over', async () => {
    const queue = new GattQueue(new FakeTime())
    const first = pending()
    const began: string[] = []
    void queue.run('first', 1000, () => (began.push('first'), first.promise))
    const second = queue.run('second', 1000, async () => began.push('second'))
    await settled()
    expect(began).toEqual(['first'])
    first.resolve()
    await second
    expect(began).toEqual(['first', 'second'])
  })

  test('goes on after an operation that failed, and hands its error to the caller only', async () => {
    const queue = new GattQueue(new FakeTime())
    const failed = queue.run('first', 1000, () => Promise.reject(new Error('refused')))
    await expect(failed).rejects.toThrow('refused')
    await expect(queue.run('second', 1000, async () => 2)).resolves.toBe(2)
  })

  test('hands on what an operation throws before it returns a promise', async () => {
    const queue = new GattQueue(new FakeTime())
    const thrown = queue.run('first', 1000, () => {
      throw new Error('not even begun')
    })
    await expect(thrown).rejects.toThrow('not even begun')
  })

  test('rejects an operation that outlasts its limit, naming it and the limit', async () => {
    const time = new FakeTime()
    const queue = new GattQueue(time)
    const failure = queue
      .run('subscribing', 5000, () => new Promise<Error>(() => {}))
      .catch((error: Error) => error)
    await time.advance(5000)
    expect(await failure).toEqual(new GattTimeout('subscribing', 5000))
    expect(new GattTimeout('subscribing', 5000).message).toBe('subscribing took longer than 5 s')
  })

  test('counts the limit from the beginning of the operation, not from its wait in the queue', async () => {
    const time = new FakeTime()
    const queue = new GattQueue(time)
    const first = pending()
    const second = pending()
    void queue.run('first', 5000, () => first.promise)
    const result = queue.run('second', 1000, () => second.promise)
    await time.advance(4000)
    first.resolve()
    await time.advance(900)
    second.resolve()
    await expect(result).resolves.toBeUndefined()
    expect(time.waiting).toBe(0)
  })

  test('closing rejects what is under way and what waits, and nothing begins afterwards', async () => {
    const time = new FakeTime()
    const queue = new GattQueue(time)
    const began: string[] = []
    const underWay = queue.run('first', 1000, () => new Promise(() => {})).catch((error: Error) => error)
    const waiting = queue.run('second', 1000, async () => began.push('second')).catch((error: Error) => error)
    await settled()
    queue.close()
    expect(await underWay).toBeInstanceOf(GattClosed)
    expect(await waiting).toBeInstanceOf(GattClosed)
    expect(began).toEqual([])
    expect(time.waiting).toBe(0)
  })
})
