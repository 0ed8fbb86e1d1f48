import { describe, expect, test, vi } from 'vitest'
import { ApiError, errorOfResponse } from '../../dashboard/lib/problem.ts'
import { UploadQueue } from '../../dashboard/lib/upload-queue.svelte.ts'
import { anySession } from './fakes/records.ts'

const file = (name: string) => new File(['t,ax,ay,az\n'], name)

describe('upload queue', () => {
  test('sends one file after the other, each with the set-up of its batch', async () => {
    const under = { way: 0, most: 0 }
    const send = vi.fn(async () => {
      under.most = Math.max(under.most, ++under.way)
      await Promise.resolve()
      under.way--
      return anySession()
    })
    const queue = new UploadQueue('d', send)
    queue.add([file('a'), file('b')], { exercise: 'stand', surface: 'floor' })
    queue.add([file('c')], {})
    await vi.waitFor(() => expect(queue.busy).toBe(false))
    expect(under.most).toBe(1)
    expect(queue.uploads.map((upload) => upload.state)).toEqual(['done', 'done', 'done'])
    expect(send.mock.calls.map((call) => (call as unknown[])[2])).toEqual([
      { exercise: 'stand', surface: 'floor' },
      { exercise: 'stand', surface: 'floor' },
      {},
    ])
  })

  test('a refused file keeps its error and does not stop the others', async () => {
    const problem = { type: 'x', title: 'x', status: 422, detail: 'line 3: bad', code: 'BAD_NUMBER', line: 3 }
    const send = vi
      .fn()
      .mockRejectedValueOnce(errorOfResponse(422, JSON.stringify(problem)))
      .mockResolvedValue(anySession())
    const queue = new UploadQueue('d', send)
    queue.add([file('a'), file('b')], {})
    await vi.waitFor(() => expect(queue.busy).toBe(false))
    expect(queue.uploads[0].error?.problem?.line).toBe(3)
    expect(queue.uploads[1].state).toBe('done')
  })

  test('trying again sends the corrected fields', async () => {
    const send = vi
      .fn()
      .mockRejectedValueOnce(new ApiError('the unit is unknown'))
      .mockResolvedValue(anySession())
    const queue = new UploadQueue('d', send)
    queue.add([file('a')], {})
    await vi.waitFor(() => expect(queue.uploads[0].state).toBe('failed'))
    queue.uploads[0].fields.unit = 'mg'
    queue.again(queue.uploads[0])
    await vi.waitFor(() => expect(queue.uploads[0].state).toBe('done'))
    expect(send.mock.lastCall?.[2]).toEqual({ unit: 'mg' })
  })

  test('a body that is no problem document still gives a message', () => {
    const error = errorOfResponse(502, '<html>bad gateway</html>')
    expect(error.message).toBe('The server answered with status 502.')
    expect(error.problem).toBeNull()
  })
})
