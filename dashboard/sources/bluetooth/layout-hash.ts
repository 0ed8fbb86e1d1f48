import { canonicalJson } from '#signal/packet/canonical-json'
import type { PacketLayout } from '#signal/packet/layout'

/** SHA-256 of the layout's canonical text, hex: the same layout has the same name everywhere. */
export async function layoutHash(layout: PacketLayout): Promise<string> {
  const digest = await crypto.subtle.digest('SHA-256', new TextEncoder().encode(canonicalJson(layout)))
  return Array.from(new Uint8Array(digest), (byte) => byte.toString(16).padStart(2, '0')).join('')
}
