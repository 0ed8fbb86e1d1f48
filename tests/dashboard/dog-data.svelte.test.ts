import { flushSync, mount, unmount } from 'svelte'
import { afterEach, expect, test, vi } from 'vitest'
import DogData from '../../dashboard/components/DogData.svelte'
import ImportDog from '../../dashboard/components/ImportDog.svelte'
import { anySession } from './fakes/records.ts'

afterEach(() => vi.unstubAllGlobals())

const dog = {
  id: 'dog-1',
  name: 'Juniper',
  breed: null,
  weightKg: null,
  withersCm: null,
  bornYear: null,
  notes: null,
  demo: false,
  createdAt: '2026-03-01T10:00:00.000Z',
  sessions: 2,
  version: 1,
}

test('a dog’s data: links to the ZIP, FHIR and each finished recording; a running one is said to be left out', async () => {
  const target = document.createElement('div')
  document.body.replaceChildren(target)
  const sessions = [
    { ...anySession(), id: 's-1', state: 'finished' as const },
    { ...anySession(), id: 's-2', state: 'recording' as const },
  ]
  const shown = mount(DogData, { target, props: { dog, sessions, onDeleted: () => {} } })
  flushSync()
  const links = [...target.querySelectorAll('a')].map((link) => link.getAttribute('href'))
  expect(links).toEqual([
    '/api/dogs/dog-1/export.zip',
    '/api/dogs/dog-1/fhir.json',
    '/api/sessions/s-1/trace.csv',
    '/api/sessions/s-1/trace.edf',
  ])
  expect(target.textContent).toContain('being recorded now is left out')
  expect(target.querySelector('dialog')!.textContent).toContain('2 sessions with traces and reports')
  await unmount(shown)
})

/** An XMLHttpRequest that answers at once. */
function answering(status: number, body: object) {
  return class {
    upload = { onprogress: null, onload: null as (() => void) | null }
    onload: (() => void) | null = null
    status = status
    responseText = JSON.stringify(body)
    open() {}
    abort() {}
    send() {
      this.upload.onload?.()
      queueMicrotask(() => this.onload?.())
    }
  }
}

async function choose(answer: ReturnType<typeof answering>) {
  vi.stubGlobal('XMLHttpRequest', answer)
  const target = document.createElement('div')
  document.body.replaceChildren(target)
  const shown = mount(ImportDog, { target, props: {} })
  flushSync()
  const input = target.querySelector('input')!
  Object.defineProperty(input, 'files', { value: [new File(['x'], 'juniper.zip')], configurable: true })
  input.dispatchEvent(new Event('change', { bubbles: true }))
  return { target, done: () => unmount(shown) }
}

test('a refused archive is told by its name, the reason and the remedy', async () => {
  const problem = { status: 422, detail: 'dog.json is missing in the ZIP.', remedy: 'Export again.' }
  const { target, done } = await choose(answering(422, problem))
  await vi.waitFor(() => expect(target.querySelector('[role=alert]')).not.toBeNull())
  const words = target.querySelector('[role=alert]')!.textContent!.replaceAll(/\s+/g, ' ')
  expect(words).toContain('juniper.zip was not brought back. dog.json is missing in the ZIP. Export again.')
  await done()
})

test('a dog that is back is linked', async () => {
  const { target, done } = await choose(answering(201, { dog, sessions: 2, analysedAgain: 1 }))
  await vi.waitFor(() => expect(target.querySelector('a')).not.toBeNull())
  expect(target.querySelector('a')!.getAttribute('href')).toBe('/dogs/dog-1')
  const words = target.querySelector('[role=status]')!.textContent!.replaceAll(/\s+/g, ' ')
  expect(words).toContain('Juniper is back, with 2 sessions. One was measured anew by this version.')
  await done()
})
