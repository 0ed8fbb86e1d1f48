import type { Random } from '#signal/simulator/random'

const whole = (random: Random, below: number) => Math.floor(random.uniform(0, below))

/** A valid frame with one kind of damage. Damage that happens to leave it valid is part of it. */
export function brokenFrame(frame: Uint8Array, random: Random): Uint8Array {
  const bytes = Uint8Array.from(frame)
  const view = new DataView(bytes.buffer)
  switch (whole(random, 7)) {
    case 0:
      // Bits of the header; those of the payload would be other samples, which nobody can tell.
      for (let n = whole(random, 4) + 1; n > 0; n--) bytes[whole(random, 8)] ^= 1 << whole(random, 8)
      return bytes
    case 1:
      return bytes.slice(0, whole(random, bytes.length))
    case 2:
      view.setUint32(4, random.pick([0, 4097, 0x7fff_ffff, 0xffff_ffff, whole(random, 5000)]), true)
      return bytes
    case 3:
      view.setFloat64(8, random.pick([-1, NaN, Infinity, 0.5, 2 ** 53, 1e308, 1e9, -0]), true)
      return bytes
    case 4:
      view.setFloat32(
        32 + 4 * whole(random, (bytes.length - 32) / 4),
        random.pick([NaN, Infinity, -Infinity]),
        true,
      )
      return bytes
    case 5:
      return Uint8Array.of(...bytes, ...bytes.slice(0, 1 + whole(random, 40)))
    default:
      return Uint8Array.from({ length: whole(random, 200) }, () => whole(random, 256))
  }
}

const NASTY: readonly unknown[] = [
  null,
  true,
  -1,
  0.5,
  1e308,
  -1e308,
  2 ** 53,
  2 ** 31,
  '',
  'x'.repeat(5000),
  '\u0000',
  '😀',
  '__proto__',
  '../../etc',
  [],
  {},
  { toString: 1, valueOf: 1 },
  ['hello'],
  [[['hello']]],
]

/** A message of the protocol with one kind of damage, as text. */
export function brokenMessage(ids: { session: string; stream: string; id: string }, random: Random): string {
  const { session, stream, id } = ids
  const messages: Record<string, unknown>[] = [
    { type: 'hello', protocol: 1, session, stream, rateHz: 100, channels: 3, startedAtUs: 0 },
    { type: 'mark', id, atS: 1, kind: 'note', note: 'n' },
    // Never to be reached: a finish that is right ends the recording.
    { type: 'finish', stream, nextIndex: 4_000_000_000 },
    { type: 'ping', sentAtUs: -1 },
    { type: 'welcome', stream, nextIndex: 0 },
  ]
  const message = random.pick(messages)
  const text = JSON.stringify(message)
  const field = random.pick(Object.keys(message))
  switch (whole(random, 7)) {
    case 0:
      return JSON.stringify({ ...message, [field]: random.pick(NASTY) })
    case 1:
      return text.slice(0, whole(random, text.length))
    case 2:
      return text.replace(`"${field}":`, `"${field}":${'['.repeat(whole(random, 20_000))}`)
    case 3: {
      const depth = 1 + whole(random, 15_000)
      return JSON.stringify({ ...message, [field]: '@' }).replace(
        '"@"',
        '['.repeat(depth) + ']'.repeat(depth),
      )
    }
    case 4:
      return JSON.stringify({ ...message, [`${field}x`]: random.pick(NASTY) })
    case 5:
      return JSON.stringify(random.pick(NASTY))
    default: {
      const at = whole(random, text.length)
      return text.slice(0, at) + String.fromCharCode(whole(random, 0x300)) + text.slice(at + 1)
    }
  }
}
