/** A seeded stream of random numbers; the same seed gives the same numbers everywhere. */
export interface Random {
  /** Uniform in [from, to), default [0, 1), with 53 random bits. */
  uniform(from?: number, to?: number): number
  /** Standard normal deviate (Marsaglia's polar method). */
  normal(): number
  /** One of the items, each equally likely. */
  pick<T>(items: readonly T[]): T
  /** A stream of its own for a subject; does not depend on what was drawn from this one before. */
  split(label: string): Random
}

/**
 * Random numbers from sfc32 ("small fast counting", C. Doty-Humphrey, PractRand 0.93; from memory),
 * seeded by a hash of the seed's text. For simulation only, never for secrets.
 */
export function createRandom(seed: number | string): Random {
  const text = String(seed)
  let a = textHash(text, 0x9e3779b9)
  let b = textHash(text, 0x243f6a88)
  let c = textHash(text, 0xb7e15162)
  let counter = 1
  const next = (): number => {
    const sum = (a + b + counter) | 0
    counter = (counter + 1) | 0
    a = b ^ (b >>> 9)
    b = (c + (c << 3)) | 0
    c = (((c << 21) | (c >>> 11)) + sum) | 0
    return sum >>> 0
  }
  for (let i = 0; i < 12; i++) next()

  let spare: number | null = null
  const random: Random = {
    uniform: (from = 0, to = 1) =>
      from + (to - from) * (((next() >>> 5) * 2 ** 26 + (next() >>> 6)) / 2 ** 53),
    normal: () => {
      if (spare !== null) {
        const value = spare
        spare = null
        return value
      }
      for (;;) {
        const u = random.uniform(-1, 1)
        const v = random.uniform(-1, 1)
        const s = u * u + v * v
        if (s > 0 && s < 1) {
          const scale = Math.sqrt((-2 * Math.log(s)) / s)
          spare = v * scale
          return u * scale
        }
      }
    },
    pick: (items) => items[Math.floor(random.uniform(0, items.length))],
    split: (label) => createRandom(`${text}/${label}`),
  }
  return random
}

/** 32-bit FNV-1a of the text with a salt, finished by the MurmurHash3 mixer (both from memory). */
function textHash(text: string, salt: number): number {
  let hash = 0x811c9dc5 ^ salt
  for (let i = 0; i < text.length; i++) hash = Math.imul(hash ^ text.charCodeAt(i), 0x01000193)
  hash = Math.imul(hash ^ (hash >>> 16), 0x85ebca6b)
  hash = Math.imul(hash ^ (hash >>> 13), 0xc2b2ae35)
  return (hash ^ (hash >>> 16)) | 0
}
