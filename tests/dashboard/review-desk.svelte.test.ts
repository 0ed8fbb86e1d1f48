import { beforeEach, describe, expect, test, vi } from 'vitest'
import type { SessionEdits, StoredSessionEdits } from '#protocol/session-review'
import { ApiError } from '../../dashboard/lib/problem.ts'
import { EditDesk } from '../../dashboard/lib/review/edit-desk.svelte.ts'
import { addMark, moveMark } from '../../dashboard/lib/review/edit-document.ts'
import { UnsavedEditsStore } from '../../dashboard/lib/review/unsaved-edits.ts'

const mark = (id: string, atS: number) => ({ id, atS, kind: 'support-off' as const, note: null })

/** What the route does: one document, a version, 412 for another one. */
class FakeServer {
  stored: StoredSessionEdits = { marks: [mark('a', 10)], holds: [], version: 3 }
  puts = 0
  fault: ApiError | null = null

  load = async () => structuredClone(this.stored)

  save = async (edits: SessionEdits, version: number) => {
    this.puts++
    if (this.fault) throw this.fault
    if (version !== this.stored.version) {
      const problem = { type: '', title: '', status: 412, detail: 'changed', code: 'RECORD_CHANGED' }
      throw new ApiError('changed', { problem })
    }
    this.stored = { ...structuredClone(edits), version: version + 1 }
    return structuredClone(this.stored)
  }
}

let server: FakeServer
const measured = vi.fn(async () => {})

function openDesk(page = 'p1', pauseMs = 5) {
  return new EditDesk({
    load: server.load,
    save: server.save,
    measured,
    unsaved: new UnsavedEditsStore('s', page, localStorage),
    pauseMs,
  })
}

beforeEach(() => {
  localStorage.clear()
  server = new FakeServer()
  measured.mockClear()
})

describe('edits of a session', () => {
  test('changes in a row are saved as one document with one analysis', async () => {
    const desk = openDesk()
    await desk.load()
    desk.change(moveMark(desk.doc, 'a', 11))
    desk.change(addMark(desk.doc, mark('b', 20)))
    expect(desk.phase).toBe('waiting')
    await vi.waitFor(() => expect(desk.phase).toBe('saved'))
    expect(server.puts).toBe(1)
    expect(measured).toHaveBeenCalledOnce()
    expect(server.stored.marks).toEqual([mark('a', 11), mark('b', 20)])
    expect(desk.undoWords).toBe('hands-off added at 0:20.0')
    desk.undo()
    await vi.waitFor(() => expect(server.stored.marks).toEqual([mark('a', 11)]))
  })

  test('undo and redo were silent: the last words told were still those of the change', async () => {
    const desk = openDesk('p1', 60_000)
    await desk.load()
    desk.undo()
    expect(desk.steppedWords).toBe('')
    desk.change(addMark(desk.doc, mark('b', 20)))
    desk.undo()
    expect(desk.steppedWords).toBe('Undone: hands-off added at 0:20.0.')
    desk.redo()
    expect(desk.steppedWords).toBe('Done again: hands-off added at 0:20.0.')
    desk.change(moveMark(desk.doc, 'a', 11))
    expect(desk.steppedWords).toBe('')
  })

  test('taken back before it was sent, nothing is sent', async () => {
    const desk = openDesk('p1', 60_000)
    await desk.load()
    desk.change(moveMark(desk.doc, 'a', 11))
    desk.undo()
    expect(desk.phase).toBe('saved')
    await desk.saveNow()
    expect(server.puts).toBe(0)
    expect(localStorage.length).toBe(0)
  })

  test('what could not be saved stays, may be tried again, and outlives the page', async () => {
    const desk = openDesk()
    await desk.load()
    server.fault = new ApiError('not reachable', { offline: true })
    desk.change(moveMark(desk.doc, 'a', 12))
    await vi.waitFor(() => expect(desk.phase).toBe('failed'))
    expect(desk.doc.marks[0].atS).toBe(12)
    expect(desk.unsaved).toBe(true)

    const next = openDesk('p2')
    await next.load()
    expect(next.left).toHaveLength(1)
    expect(next.doc.marks[0].atS).toBe(10)
    server.fault = null
    next.putBackLeft()
    await vi.waitFor(() => expect(server.stored.marks[0].atS).toBe(12))
    await vi.waitFor(() => expect(next.phase).toBe('saved'))
    expect(localStorage.length).toBe(0)
  })

  test('another version on the server is a conflict: theirs and mine are told, mine can go on top', async () => {
    const desk = openDesk()
    await desk.load()
    server.stored = { marks: [mark('a', 10), mark('t', 40)], holds: [], version: 4 }
    desk.change(moveMark(desk.doc, 'a', 11))
    await vi.waitFor(() => expect(desk.phase).toBe('conflict'))
    expect(desk.theirChanges).toEqual(['hands-off at 0:40.0: added'])
    expect(desk.ownChanges).toEqual(['hands-off at 0:11.0, before hands-off at 0:10.0'])
    expect(server.puts).toBe(1)
    await desk.putMineOnTop()
    expect(desk.phase).toBe('saved')
    expect(server.stored.marks).toEqual([mark('a', 11), mark('t', 40)])
    desk.undo()
    await vi.waitFor(() => expect(server.stored.marks).toEqual([mark('a', 10), mark('t', 40)]))
  })

  test('mine can be dropped for theirs', async () => {
    const desk = openDesk()
    await desk.load()
    server.stored = { marks: [], holds: [], version: 4 }
    desk.change(moveMark(desk.doc, 'a', 11))
    await vi.waitFor(() => expect(desk.phase).toBe('conflict'))
    await desk.dropMine()
    expect([desk.phase, desk.doc.marks, desk.undoWords]).toEqual(['saved', [], null])
    expect(localStorage.length).toBe(0)
  })

  test('a change made while another is on its way is saved after it', async () => {
    const desk = openDesk()
    await desk.load()
    let release = () => {}
    const usual = server.save
    server.save = async (edits, version) => {
      await new Promise<void>((resolve) => (release = resolve))
      return usual(edits, version)
    }
    const slow = new EditDesk({
      load: server.load,
      save: (edits, version) => server.save(edits, version),
      measured,
      unsaved: new UnsavedEditsStore('s', 'p3', localStorage),
      pauseMs: 1,
    })
    await slow.load()
    slow.change(moveMark(slow.doc, 'a', 11))
    await vi.waitFor(() => expect(slow.phase).toBe('saving'))
    slow.change(moveMark(slow.doc, 'a', 13))
    server.save = usual
    release()
    await vi.waitFor(() => expect(server.stored.marks[0].atS).toBe(13))
    await vi.waitFor(() => expect(slow.phase).toBe('saved'))
  })

  test('a session that was deleted meanwhile is told, asked about no more, and leaves nothing here', async () => {
    const desk = openDesk()
    await desk.load()
    server.fault = new ApiError('There is no session s.', {
      status: 404,
      problem: { type: '', title: '', status: 404, detail: '', code: 'NOT_FOUND' },
    })
    desk.change(moveMark(desk.doc, 'a', 11))
    await desk.saveNow()
    expect(desk.phase).toBe('gone')
    expect(desk.unsaved).toBe(false)
    expect(Object.keys(localStorage)).toEqual([])
  })
})
