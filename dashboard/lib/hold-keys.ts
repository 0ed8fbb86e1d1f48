import { browserStorage } from './preferences.svelte'

export type HoldAction = 'support' | 'repetition' | 'note'
export const HOLD_ACTIONS: readonly { action: HoldAction; words: string }[] = [
  { action: 'support', words: 'Hands on or off' },
  { action: 'repetition', words: 'Repetition starts or ends' },
  { action: 'note', words: 'Open the notes' },
]

/** Names of keys as `KeyboardEvent.key` gives them, letters in lower case. */
export type KeyBindings = Readonly<Record<HoldAction, string>>
export const USUAL_KEYS: KeyBindings = { support: ' ', repetition: 'r', note: 'n' }

/** Keys that move through the page or belong to the browser: a pedal that sends them is refused. */
const REFUSED = new Set(['Tab', 'Escape', 'Shift', 'Control', 'Alt', 'Meta', 'CapsLock', 'Dead', 'Process'])

/** Elements that use Space and Enter themselves: a shortcut must not take those away. */
const PRESSED_BY_KEYS = 'button, a, summary, [role="button"]'
/** Elements that use every key themselves. */
const TYPED_INTO = 'input, select, textarea, dialog, [contenteditable]'

/** One name for a key however it was held: letters in lower case. */
export const keyName = (event: Pick<KeyboardEvent, 'key'>): string =>
  event.key.length === 1 ? event.key.toLowerCase() : event.key

/** What a key press on the hold view means, or null when it is not for it. */
export function actionOf(event: KeyboardEvent, bindings: KeyBindings): HoldAction | null {
  if (event.repeat || event.ctrlKey || event.metaKey || event.altKey) return null
  const key = keyName(event)
  const target = event.target instanceof Element ? event.target : null
  if (target?.closest(TYPED_INTO)) return null
  if ((key === ' ' || key === 'Enter') && target?.closest(PRESSED_BY_KEYS)) return null
  return HOLD_ACTIONS.find(({ action }) => bindings[action] === key)?.action ?? null
}

/** Why a key cannot be taken for an action, or null when it can. */
export function keyRefused(key: string, action: HoldAction, bindings: KeyBindings): string | null {
  if (REFUSED.has(key)) return `${keyWords(key)} belongs to the browser: set the pedal to another key.`
  const other = HOLD_ACTIONS.find(({ action: taken }) => taken !== action && bindings[taken] === key)
  return other ? `${keyWords(key)} is taken: ${other.words.toLowerCase()}.` : null
}

const WORDS: Readonly<Record<string, string>> = {
  ' ': 'space bar',
  PageDown: 'page down',
  PageUp: 'page up',
  ArrowUp: 'arrow up',
  ArrowDown: 'arrow down',
  ArrowLeft: 'arrow left',
  ArrowRight: 'arrow right',
}

export const keyWords = (key: string): string => WORDS[key] ?? (key.length === 1 ? key.toUpperCase() : key)

const STORED = 'swaybook.hold-keys'

/** The keys chosen in this browser; the usual ones where nobody chose, or where what is stored is no choice. */
export function rememberedKeys(): KeyBindings {
  const stored = browserStorage()?.getItem(STORED)
  if (!stored) return USUAL_KEYS
  const keys = stored.split('\n')
  const known = keys.length === HOLD_ACTIONS.length && keys.every((key) => key !== '' && !REFUSED.has(key))
  if (!known || new Set(keys).size < keys.length) return USUAL_KEYS
  return { support: keys[0], repetition: keys[1], note: keys[2] }
}

export function rememberKeys(bindings: KeyBindings) {
  browserStorage()?.setItem(STORED, HOLD_ACTIONS.map(({ action }) => bindings[action]).join('\n'))
}
