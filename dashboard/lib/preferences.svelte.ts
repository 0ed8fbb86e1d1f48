import type { AccelerationUnit, BodyUnits } from './format'

/** A choice of this browser, remembered in local storage when that is allowed. */
export class Preference<T extends string> {
  readonly #key: string
  #value: T

  constructor(key: string, allowed: readonly T[], initial: T) {
    this.#key = key
    const stored = browserStorage()?.getItem(key)
    this.#value = $state(allowed.find((value) => value === stored) ?? initial)
  }

  get value(): T {
    return this.#value
  }

  set value(value: T) {
    this.#value = value
    browserStorage()?.setItem(this.#key, value)
  }
}

/** What this browser remembers for us, or null where that is not allowed. */
export function browserStorage(): Storage | null {
  try {
    return window.localStorage
  } catch {
    // Blocked by the browser's privacy settings: the choice then lasts until the page closes.
    return null
  }
}

/** Pounds and inches are everyday units in these regions (CLDR unit preferences: US, LR, MM). */
function bodyUnitsOfLocale(): BodyUnits {
  return /-(US|LR|MM)$/.test(navigator.language) ? 'imperial' : 'metric'
}

export const accelerationUnit = new Preference<AccelerationUnit>('swaybook.acceleration', ['si', 'mg'], 'si')
export const bodyUnits = new Preference<BodyUnits>(
  'swaybook.body-units',
  ['metric', 'imperial'],
  bodyUnitsOfLocale(),
)
