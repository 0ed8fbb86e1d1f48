import { describe, expect, test } from 'vitest'
import { pathOfClick } from '../../dashboard/lib/link-clicks.ts'
import { paths, routeOf } from '../../dashboard/lib/routes.ts'

describe('routes', () => {
  test('every address a link is made of leads to its screen', () => {
    expect(routeOf(paths.home)).toEqual({ name: 'home' })
    expect(routeOf(paths.dog('a-1'))).toEqual({ name: 'dog', dogId: 'a-1' })
    expect(routeOf(paths.addTraces('a'))).toEqual({ name: 'add-traces', dogId: 'a' })
    expect(routeOf(paths.record('a'))).toEqual({ name: 'record', dogId: 'a' })
    expect(routeOf(paths.plan('a'))).toEqual({ name: 'plan', dogId: 'a' })
    expect(routeOf(paths.trends('a'))).toEqual({ name: 'trends', dogId: 'a' })
    expect(routeOf(paths.diary('a'))).toEqual({ name: 'diary', dogId: 'a' })
    expect(routeOf(paths.report('a'))).toEqual({ name: 'report', dogId: 'a' })
    expect(routeOf(paths.settings)).toEqual({ name: 'settings' })
    expect(routeOf(paths.setUp)).toEqual({ name: 'set-up', dogId: null, step: 'dog' })
    expect(routeOf(paths.setUpStep('a', 'sensor'))).toEqual({ name: 'set-up', dogId: 'a', step: 'sensor' })
    expect(routeOf(paths.session('s'))).toEqual({ name: 'session', sessionId: 's' })
    expect(routeOf(paths.live('s') + '/')).toEqual({ name: 'live', sessionId: 's' })
    expect(routeOf(paths.numbers())).toEqual({ name: 'numbers' })
    expect(routeOf(paths.layouts)).toEqual({ name: 'layouts' })
  })

  test('anything else is not found, a broken escape too', () => {
    expect(routeOf('/dogs/1/2/3').name).toBe('not-found')
    expect(routeOf('/dogs/1/constructor').name).toBe('not-found')
    expect(routeOf('/set-up/1/anything').name).toBe('not-found')
    expect(routeOf('/%').name).toBe('not-found')
  })
})

describe('clicks on links', () => {
  function click(html: string, init: MouseEventInit = {}): string | null {
    document.body.innerHTML = html
    let path: string | null = null
    const listen = (event: MouseEvent) => (path = pathOfClick(event))
    document.addEventListener('click', listen)
    const event = new MouseEvent('click', { bubbles: true, cancelable: true, ...init })
    document.querySelector('a')?.dispatchEvent(event)
    document.removeEventListener('click', listen)
    return path
  }

  test('a plain click stays in the dashboard', () => {
    expect(click('<a href="/dogs/1">x</a>')).toBe('/dogs/1')
  })

  test('the anchor of a link goes with its path', () => {
    expect(click(`<a href="${paths.numbers('jerk')}">x</a>`)).toBe('/numbers#jerk')
  })

  test('the browser keeps new tabs, downloads, other sites, anchors and the API', () => {
    expect(click('<a href="/dogs/1">x</a>', { ctrlKey: true })).toBeNull()
    expect(click('<a href="/dogs/1">x</a>', { metaKey: true })).toBeNull()
    expect(click('<a href="/dogs/1" download>x</a>')).toBeNull()
    expect(click('<a href="https://example.org/">x</a>')).toBeNull()
    expect(click('<a href="#main">x</a>')).toBeNull()
    expect(click('<a href="/api/health">x</a>')).toBeNull()
  })
})
