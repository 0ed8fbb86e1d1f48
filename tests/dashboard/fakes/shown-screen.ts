import { flushSync, mount, unmount } from 'svelte'
import { afterEach, beforeEach, vi } from 'vitest'
import { account } from '../../../dashboard/lib/people/account.svelte.ts'

export type Answer = Response | (() => Response | Promise<Response>)

/**
 * One component at a time in a page of its own, with a server that answers by method and path. Call it once in
 * a file; nobody is known to the browser when a test begins.
 */
export function shownScreen() {
  let host: HTMLElement
  let shown: object | null = null

  beforeEach(() => {
    localStorage.clear()
    account.me = null
    account.asked = false
    account.ended = false
    host = document.createElement('div')
    document.body.replaceChildren(host)
    history.replaceState(null, '', '/')
    // This DOM has dialogs that cannot be shown.
    HTMLDialogElement.prototype.showModal = function () {
      this.open = true
    }
  })
  afterEach(async () => {
    if (shown) await unmount(shown)
    shown = null
    vi.useRealTimers()
    vi.unstubAllGlobals()
  })

  const text = () => host.textContent.replace(/\s+/g, ' ')

  return {
    text,
    // eslint-disable-next-line @typescript-eslint/no-explicit-any -- props are checked where a component is used
    show(component: any, props: object = {}) {
      shown = mount(component, { target: host, props })
      flushSync()
    },
    find: (selector: string) => host.querySelector<HTMLInputElement>(selector),
    buttons: () => [...host.querySelectorAll('button')].map((one) => one.textContent.trim()),
    button(name: string) {
      const found = [...host.querySelectorAll('button')].find((one) => one.textContent.trim() === name)
      if (!found) throw new Error(`no button “${name}” in: ${text()}`)
      return found
    },
    /** Types into the field with this label. */
    type(label: string, value: string) {
      const named = [...host.querySelectorAll('label')].find((one) => one.textContent.startsWith(label))
      const input = document.getElementById(named?.htmlFor ?? '') as HTMLInputElement | null
      if (!input) throw new Error(`no field “${label}” in: ${text()}`)
      input.value = value
      input.dispatchEvent(new Event('input', { bubbles: true }))
      flushSync()
    },
    /** What has no answer is a server that cannot be reached. */
    stubApi(answers: Record<string, Answer>) {
      const calls: { name: string; body: unknown }[] = []
      vi.stubGlobal('fetch', async (url: string, init?: RequestInit) => {
        const name = `${init?.method ?? 'GET'} ${url.split('?')[0]}`
        calls.push({ name, body: init?.body ? JSON.parse(String(init.body)) : undefined })
        const answer = answers[name]
        if (!answer) throw new TypeError(`no answer for ${name}`)
        return typeof answer === 'function' ? answer() : answer.clone()
      })
      return calls
    },
  }
}
