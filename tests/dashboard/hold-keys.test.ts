import { beforeEach, describe, expect, test } from 'vitest'
import {
  actionOf,
  keyRefused,
  rememberedKeys,
  rememberKeys,
  USUAL_KEYS,
} from '../../dashboard/lib/hold-keys.ts'
import type { KeyBindings } from '../../dashboard/lib/hold-keys.ts'

beforeEach(() => {
  localStorage.clear()
  document.body.innerHTML =
    '<main tabindex="-1"></main><button>x</button><input /><dialog open><p>x</p></dialog>'
})

function press(key: string, on = 'main', init: KeyboardEventInit = {}, bindings: KeyBindings = USUAL_KEYS) {
  const event = new KeyboardEvent('keydown', { key, bubbles: true, ...init })
  let action: ReturnType<typeof actionOf> = null
  const listen = (pressed: KeyboardEvent) => (action = actionOf(pressed, bindings))
  document.addEventListener('keydown', listen)
  document.querySelector(on)?.dispatchEvent(event)
  document.removeEventListener('keydown', listen)
  return action
}

describe('keys of the hold view', () => {
  test('space marks hands, R the repetition, N opens the notes', () => {
    expect(press(' ')).toBe('support')
    expect(press('R')).toBe('repetition')
    expect(press('n')).toBe('note')
    expect(press('x')).toBeNull()
  })

  test('a focused button keeps space and Enter, and gives up nothing else', () => {
    expect(press(' ', 'button')).toBeNull()
    expect(press('r', 'button')).toBe('repetition')
    const pedal = { ...USUAL_KEYS, support: 'Enter', repetition: 'PageDown' }
    expect(press('Enter', 'button', {}, pedal)).toBeNull()
    expect(press('PageDown', 'button', {}, pedal)).toBe('repetition')
  })

  test('typing is left alone, and so are dialogs, held keys and keys with a modifier', () => {
    expect(press('r', 'input')).toBeNull()
    expect(press(' ', 'dialog p')).toBeNull()
    expect(press(' ', 'main', { repeat: true })).toBeNull()
    expect(press('r', 'main', { ctrlKey: true })).toBeNull()
  })

  test('a pedal may send any key that is free, and not one of the browser', () => {
    expect(keyRefused('PageUp', 'support', USUAL_KEYS)).toBeNull()
    expect(keyRefused('Tab', 'support', USUAL_KEYS)).toContain('belongs to the browser')
    expect(keyRefused('r', 'support', USUAL_KEYS)).toContain('is taken')
    expect(keyRefused(' ', 'support', USUAL_KEYS)).toBeNull()
  })

  test('are remembered in this browser; what is no choice is not', () => {
    const pedal = { support: 'PageDown', repetition: 'PageUp', note: 'n' }
    rememberKeys(pedal)
    expect(rememberedKeys()).toEqual(pedal)
    for (const broken of ['x', 'a\na\nb', 'a\nTab\nb', 'a\n\nb']) {
      localStorage.setItem('swaybook.hold-keys', broken)
      expect(rememberedKeys()).toEqual(USUAL_KEYS)
    }
  })
})
