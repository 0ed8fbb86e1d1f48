/** Elements that use keys themselves: a shortcut must not take them away. */
const OWN_KEYS = 'input, select, textarea, button, a, summary, dialog'

/** What a key press on the hold view means, or null when it is not for it. */
export function shortcutOf(event: KeyboardEvent): 'support' | 'repetition' | null {
  if (event.repeat || event.ctrlKey || event.metaKey || event.altKey) return null
  const busy = event.target instanceof Element && event.target.closest(OWN_KEYS) !== null
  if (event.key === ' ') return busy ? null : 'support'
  const typing = event.target instanceof Element && event.target.closest('input, select, textarea') !== null
  return event.key.toLowerCase() === 'r' && !typing ? 'repetition' : null
}
