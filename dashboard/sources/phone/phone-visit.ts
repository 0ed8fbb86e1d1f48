import type { RedeemedPairing } from '#protocol/resources'

const KEY = 'swaybook-phone'

/**
 * What a link opened on this phone, so that the page may be loaded again before the recording begins:
 * the link itself works once. Kept for this tab alone; holds no secret.
 */
export function rememberVisit(paired: RedeemedPairing) {
  sessionStorage.setItem(KEY, JSON.stringify(paired))
}

export function rememberedVisit(): RedeemedPairing | null {
  const text = sessionStorage.getItem(KEY)
  return text === null ? null : (JSON.parse(text) as RedeemedPairing)
}

export function forgetVisit() {
  sessionStorage.removeItem(KEY)
}
