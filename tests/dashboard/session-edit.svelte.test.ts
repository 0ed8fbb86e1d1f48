import { flushSync, mount, unmount } from 'svelte'
import { afterEach, expect, test, vi } from 'vitest'
import SessionEdit from '../../dashboard/components/SessionEdit.svelte'
import { anySession } from './fakes/records.ts'

afterEach(() => vi.unstubAllGlobals())

test('a set-up whose words change keeps its distances', async () => {
  const bodies: unknown[] = []
  vi.stubGlobal('fetch', async (_url: string, init?: RequestInit) => {
    bodies.push(JSON.parse(init?.body as string))
    return new Response(JSON.stringify(anySession()))
  })
  const setUp = { exercise: 'stand on pads', surface: 'foam pad', foreToHindCm: 52, leftToRightCm: 18 }
  const session = { ...anySession(), setUp }
  const onSaved = vi.fn()
  const target = document.createElement('div')
  document.body.replaceChildren(target)
  const shown = mount(SessionEdit, { target, props: { session, onSaved, onCancel: () => {} } })
  flushSync()
  const surface = target.querySelectorAll('input')[1]
  surface.value = 'foam pad, 8 cm'
  surface.dispatchEvent(new Event('input', { bubbles: true }))
  flushSync()
  target.querySelector('form')?.dispatchEvent(new Event('submit', { cancelable: true }))
  await vi.waitFor(() => expect(onSaved).toHaveBeenCalledOnce())
  expect(bodies).toEqual([{ setUp: { ...setUp, surface: 'foam pad, 8 cm' } }])
  await unmount(shown)
})
