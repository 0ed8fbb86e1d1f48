import { browserStorage } from './preferences.svelte'

/** Longest target that can be typed, s. */
export const LONGEST_TARGET_S = 60

const keyOf = (dogId: string) => `swaybook.hold-target.${dogId}`

/** A target in whole or broken seconds up to the longest; null for anything else, an empty field included. */
export function holdTargetOf(value: unknown): number | null {
  const seconds = typeof value === 'string' && value.trim() !== '' ? Number(value) : value
  return typeof seconds === 'number' && seconds > 0 && seconds <= LONGEST_TARGET_S ? seconds : null
}

/** The hold target a person typed in this browser for a dog, s; null when nobody did: none is ever assumed. */
export function rememberedHoldTargetS(dogId: string): number | null {
  return holdTargetOf(browserStorage()?.getItem(keyOf(dogId)))
}

/** Remembers the target of a dog in this browser; null forgets it. */
export function rememberHoldTargetS(dogId: string, targetS: number | null): void {
  if (targetS === null) browserStorage()?.removeItem(keyOf(dogId))
  else browserStorage()?.setItem(keyOf(dogId), String(targetS))
}
