import jsQR from 'jsqr'
import { flushSync, mount, unmount } from 'svelte'
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest'
import QrCode from '../../../dashboard/components/QrCode.svelte'
import { addressProblem, pairingLink, pairingSecret } from '../../../dashboard/sources/phone/pairing-link'
import { choice } from '../../../dashboard/sources/phone/choice'
import Setup from '../../../dashboard/sources/phone/Setup.svelte'
import { FakeSocket } from '../fakes/fake-socket'
import { fillPath } from './fill-path'

const SECRET = 'Zm9yLXRlc3RzLW9ubHktMzItYnl0ZXMtb2YtbWFkZXU'

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
  vi.useRealTimers()
})

const text = () => host.textContent.replace(/\s+/g, ' ')
const button = (name: string) =>
  [...host.querySelectorAll('button')].find((one) => one.textContent.includes(name))!

/** What an independent decoder reads in the code on the screen. */
function readCode(): string | undefined {
  const svg = host.querySelector('svg[role=img]')!
  const viewBox = svg.getAttribute('viewBox')!.split(' ').map(Number)
  const { pixels, width, height } = fillPath(svg.querySelector('path')!.getAttribute('d')!, viewBox, 4)
  return jsQR(pixels, width, height)?.data
}

function showSetup() {
  const sockets: { url: string; socket: FakeSocket }[] = []
  vi.stubGlobal(
    'WebSocket',
    class extends FakeSocket {
      constructor(url: string) {
        super()
        sockets.push({ url, socket: this })
      }
    },
  )
  const calls: string[] = []
  const expiresAt = new Date(Date.now() + 600_000).toISOString()
  vi.stubGlobal('fetch', async (url: string) => {
    calls.push(url)
    return new Response(JSON.stringify({ secret: SECRET, expiresAt }), { status: 201 })
  })
  const openSession = vi.fn(async () => ({ id: 'session-1' }))
  const onremote = vi.fn()
  shown = mount(Setup, {
    target: host,
    props: { dogId: 'dog-1', openSession, onready: vi.fn(), onremote },
  })
  flushSync()
  return { sockets, calls, openSession, onremote }
}

describe('the QR code', () => {
  it.each([
    'http://127.0.0.1:4173/phone#' + SECRET,
    'https://swaybook.example.org/phone#' + SECRET,
    'https://a-rather-long-host-name.clinic.example.org:8443/phone#' + SECRET,
  ])('is read as %s by another decoder', (link) => {
    shown = mount(QrCode, { target: host, props: { text: link, label: 'the link' } })
    flushSync()
    expect(readCode()).toBe(link)
  })

  it('has a name for those who do not see it, and light around it as ISO/IEC 18004 asks', () => {
    shown = mount(QrCode, { target: host, props: { text: 'abc', label: 'the link as text is beside it' } })
    flushSync()
    expect(host.querySelector('svg')!.getAttribute('aria-label')).toBe('the link as text is beside it')
    const [left, top, width] = host.querySelector('svg')!.getAttribute('viewBox')!.split(' ').map(Number)
    // Version 1 has 21 modules, and 4 light ones on each side.
    expect([left, top, width]).toEqual([-4, -4, 29])
  })
})

describe('the set-up of a phone', () => {
  it('opens one session, shows the link as a code and as text, and says that it works here only', async () => {
    const { calls, openSession } = showSetup()
    button('Show a link for the phone').click()
    await vi.waitFor(() => expect(host.querySelector('svg[role=img]')).not.toBeNull())
    const link = `${window.location.origin}/phone#${SECRET}`
    expect(readCode()).toBe(link)
    expect(host.querySelector('code')!.textContent).toBe(link)
    expect(text()).toContain('works on this device only')
    expect(text()).toContain('Waiting for the phone')
    expect(calls).toEqual(['/api/sessions/session-1/pairing'])
    button('Make a new link').click()
    await vi.waitFor(() => expect(calls).toHaveLength(2))
    expect(openSession).toHaveBeenCalledOnce()
  })

  it('goes on when the server says that somebody sends, and not before', async () => {
    const { sockets, onremote } = showSetup()
    button('Show a link for the phone').click()
    await vi.waitFor(() => expect(sockets).toHaveLength(1))
    const [{ url, socket }] = sockets
    expect(url).toContain('/api/live/watch?session=session-1')
    socket.open()
    socket.receive({ type: 'sender', connected: false })
    expect(onremote).not.toHaveBeenCalled()
    socket.receive({ type: 'sender', connected: true })
    expect(onremote).toHaveBeenCalledExactlyOnceWith('session-1')
  })

  it('is offered on every device, since another one measures', () => {
    expect(choice.unavailable()).toBeNull()
    expect(choice.explanation).toContain('0.1 m/s²')
  })
})

describe('the link of a pairing', () => {
  it('carries the secret in the fragment, which browsers send to nobody', () => {
    const link = new URL(pairingLink(SECRET, 'https://swaybook.example.org'))
    expect(link.pathname + link.search).toBe('/phone')
    expect(pairingSecret(link.hash)).toBe(SECRET)
  })

  it.each(['', '#', '#short', `#${SECRET} `, `#${'A'.repeat(65)}`])('is not taken from %j', (hash) => {
    expect(pairingSecret(hash)).toBeNull()
  })

  it.each([
    ['http://127.0.0.1:4173', 'this device only'],
    ['http://[::1]:4173', 'this device only'],
    ['https://localhost', 'this device only'],
    ['http://192.168.1.7:4173', 'HTTPS'],
  ])('says why a phone cannot use %s', (address, words) => {
    expect(addressProblem(new URL(address))).toContain(words)
  })

  it('finds nothing wrong with an address that has HTTPS and a name', () => {
    expect(addressProblem(new URL('https://swaybook.example.org'))).toBeNull()
  })
})
