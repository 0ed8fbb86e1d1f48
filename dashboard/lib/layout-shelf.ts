import { BUILT_IN_LAYOUTS } from '#signal/packet/built-in-layouts'
import { canonicalJson } from '#signal/packet/canonical-json'
import { LayoutError, readLayout } from '#signal/packet/check-layout'
import type { PacketLayout } from '#signal/packet/layout'

const KEY = 'swaybook.packet-layouts'
/** What could not be read is put here before anything is written over it. */
const SET_ASIDE_KEY = 'swaybook.packet-layouts.unreadable'

/** The browser does not let us keep anything, or has no room. */
export class ShelfError extends Error {
  override readonly name = 'ShelfError'
}

/**
 * The packet layouts of this browser: those that come with the program, and a person's own in local
 * storage. Own layouts have ids of their own; changing one raises its version, since recordings know a layout
 * by id, version and hash.
 */
export class LayoutShelf {
  readonly #storage: Storage | null

  /** @param storage null where the browser forbids it: then there are only the built-in layouts */
  constructor(storage: Storage | null) {
    this.#storage = storage
  }

  /** Built-in layouts first, then a person's own in the order they were put. */
  all(): PacketLayout[] {
    return [...BUILT_IN_LAYOUTS, ...this.own()]
  }

  find(id: string): PacketLayout | undefined {
    return this.all().find((layout) => layout.id === id)
  }

  isBuiltIn(id: string): boolean {
    return BUILT_IN_LAYOUTS.some((layout) => layout.id === id)
  }

  own(): PacketLayout[] {
    return this.#entries().flatMap((entry) => readable(entry) ?? [])
  }

  /** Stored entries that are no layouts any more; they stay where they are. */
  unreadable(): number {
    return this.#entries().filter((entry) => readable(entry) === null).length
  }

  /**
   * Keeps a layout under its id. Over an own one that reads otherwise, its version is raised.
   *
   * @returns the layout as kept
   * @throws {LayoutError} when it cannot be used
   * @throws {ShelfError} for the id of a built-in layout, and when the browser does not keep it
   */
  put(json: unknown): PacketLayout {
    const layout = readLayout(json)
    if (this.isBuiltIn(layout.id)) {
      throw new ShelfError(
        `${layout.id} comes with the program and stays as it is; duplicate it to change it.`,
      )
    }
    const before = this.own().find(({ id }) => id === layout.id)
    const same =
      before && canonicalJson({ ...before, version: 0 }) === canonicalJson({ ...layout, version: 0 })
    const kept = before
      ? { ...layout, version: same ? before.version : Math.max(before.version + 1, layout.version) }
      : layout
    const entries = this.#entries()
    const at = entries.findIndex((entry) => readable(entry)?.id === layout.id)
    this.#write(at < 0 ? [...entries, kept] : entries.with(at, kept))
    return kept
  }

  /** A new layout with the same bytes, under an id and a name of its own. */
  duplicate(layout: PacketLayout): PacketLayout {
    return this.put({
      ...layout,
      id: this.#freeId(`${layout.id}-copy`),
      version: 1,
      name: `${layout.name} (copy)`.slice(-80),
    })
  }

  /**
   * Takes a layout from a file. What is there already stays; another layout of the same id gets a new id.
   *
   * @throws {LayoutError} or a {ShelfError} that says what is wrong with the file
   */
  import(text: string): { layout: PacketLayout; outcome: 'added' | 'renamed' | 'there' } {
    let json: unknown
    try {
      json = JSON.parse(text)
    } catch (error) {
      throw new ShelfError('The file is no JSON. Choose a layout that was exported here.', { cause: error })
    }
    const layout = readLayout(json)
    const known = this.find(layout.id)
    if (!known) return { layout: this.put(layout), outcome: 'added' }
    if (canonicalJson(known) === canonicalJson(layout)) return { layout: known, outcome: 'there' }
    return { layout: this.put({ ...layout, id: this.#freeId(layout.id) }), outcome: 'renamed' }
  }

  /** @throws {ShelfError} when the browser does not keep the change */
  remove(id: string): void {
    this.#write(this.#entries().filter((entry) => readable(entry)?.id !== id))
  }

  #freeId(wanted: string): string {
    const taken = new Set(this.all().map(({ id }) => id))
    const base = wanted.slice(0, 58).replace(/-+$/, '')
    let id = base
    for (let n = 2; taken.has(id); n++) id = `${base}-${n}`
    return id
  }

  #entries(): unknown[] {
    const text = this.#storage?.getItem(KEY) ?? '[]'
    try {
      const entries: unknown = JSON.parse(text)
      if (Array.isArray(entries)) return entries
    } catch {
      // Not ours, or cut off: set aside below, so that the next write does not destroy it.
    }
    this.#storage?.setItem(SET_ASIDE_KEY, text)
    return []
  }

  #write(entries: readonly unknown[]): void {
    if (!this.#storage) throw new ShelfError('This browser keeps nothing for this site: allow its storage.')
    try {
      this.#storage.setItem(KEY, JSON.stringify(entries))
    } catch (error) {
      throw new ShelfError('The browser had no room for the layout. Export it to a file.', { cause: error })
    }
  }
}

function readable(entry: unknown): PacketLayout | null {
  try {
    return readLayout(entry)
  } catch (error) {
    if (error instanceof LayoutError) return null
    throw error
  }
}

/** SHA-256 of the canonical JSON of a layout, hex: what a recording keeps to name it. Needs a secure page. */
export async function layoutHash(layout: PacketLayout): Promise<string> {
  const bytes = new TextEncoder().encode(canonicalJson(layout))
  const hash = await crypto.subtle.digest('SHA-256', bytes)
  return Array.from(new Uint8Array(hash), (byte) => byte.toString(16).padStart(2, '0')).join('')
}
