import type { SessionEdits, StoredSessionEdits } from '#protocol/session-review'
import { ApiError } from '../problem'
import { sameEdits } from './edit-document'
import type { EditChange } from './edit-document'
import { changed, redone, startHistory, undone } from './edit-history'
import type { EditHistory } from './edit-history'
import { differences, putOnTop } from './edit-merge'
import type { UnsavedEdits, UnsavedEditsStore } from './unsaved-edits'

/**
 * - `loading`: not here yet, or `unreachable`: could not be loaded;
 * - `saved`: the server has everything; `waiting`: a short pause, more may follow; `saving`: on its way;
 * - `failed`: not saved, kept here, may be tried again; `conflict`: somebody else stored other edits meanwhile;
 * - `gone`: the session was deleted meanwhile, so nothing can be saved or is kept.
 */
export type EditPhase =
  'loading' | 'unreachable' | 'saved' | 'waiting' | 'saving' | 'failed' | 'conflict' | 'gone'

export interface EditDeskParts {
  load(): Promise<StoredSessionEdits>
  save(edits: SessionEdits, version: number): Promise<StoredSessionEdits>
  /** The session was analysed again: loads what is shown of it. */
  measured(): Promise<void>
  unsaved: UnsavedEditsStore
  nowMs?(): number
  /** After the last change, ms: changes in a row are one analysis. */
  pauseMs?: number
}

const EMPTY: SessionEdits = { marks: [], holds: [] }
const PAUSE_MS = 900

/** The edits of one session: changed here at once, undone and done again, and saved as one document. */
export class EditDesk {
  phase = $state<EditPhase>('loading')
  /** What went wrong, for `failed` and `unreachable`. */
  problem = $state<string | null>(null)
  /** The server measures the session again, or its figures are being loaded. */
  measuring = $state(false)
  /** What somebody else stored, for `conflict`. */
  theirs = $state.raw<StoredSessionEdits | null>(null)
  /** Edits an earlier page could not save. */
  left = $state.raw<UnsavedEdits[]>([])
  #history = $state.raw<EditHistory>(startHistory(EMPTY))
  #base = $state.raw<StoredSessionEdits>({ ...EMPTY, version: 0 })
  /** What the figures on the screen were measured under. */
  #measured = $state.raw<SessionEdits>(EMPTY)
  readonly #parts: EditDeskParts
  #timer: ReturnType<typeof setTimeout> | null = null
  #underWay: Promise<void> | null = null

  constructor(parts: EditDeskParts) {
    this.#parts = parts
  }

  get doc(): SessionEdits {
    return this.#history.present
  }

  get measured(): SessionEdits {
    return this.#measured
  }

  get ready(): boolean {
    return this.phase !== 'loading' && this.phase !== 'unreachable'
  }

  get unsaved(): boolean {
    return this.ready && this.phase !== 'saved' && this.phase !== 'gone'
  }

  /** What the newest undo or redo did, to be told to those who do not see it; empty after a change. */
  steppedWords = $state('')

  /** What the undo button names; null when there is nothing to undo. */
  get undoWords(): string | null {
    return this.#history.past.at(-1)?.words ?? null
  }

  get redoWords(): string | null {
    return this.#history.future[0]?.words ?? null
  }

  /** What is changed here and not on the server. */
  get ownChanges(): string[] {
    return differences(this.#base, this.doc)
  }

  get theirChanges(): string[] {
    return this.theirs ? differences(this.#base, this.theirs) : []
  }

  async load(): Promise<void> {
    this.phase = 'loading'
    try {
      this.#start(await this.#parts.load())
      this.left = this.#parts.unsaved.left().filter((edits) => !sameEdits(edits.doc, this.#base))
      if (this.left.length === 0) this.#parts.unsaved.forgetLeft()
    } catch (cause) {
      this.problem = messageOf(cause)
      this.phase = 'unreachable'
    }
  }

  change(change: EditChange) {
    this.steppedWords = ''
    this.#goTo(changed(this.#history, change, this.#nowMs()))
  }

  undo() {
    if (this.undoWords !== null) this.steppedWords = `Undone: ${this.undoWords}.`
    this.#goTo(undone(this.#history))
  }

  redo() {
    if (this.redoWords !== null) this.steppedWords = `Done again: ${this.redoWords}.`
    this.#goTo(redone(this.#history))
  }

  /** Saves now instead of after the pause; settles when everything that was changed is saved or refused. */
  async saveNow(): Promise<void> {
    if (this.#timer !== null) clearTimeout(this.#timer)
    this.#timer = null
    if (this.#underWay) await this.#underWay
    if (!this.unsaved || this.phase === 'conflict') return
    this.#underWay = this.#save()
    await this.#underWay
  }

  /** Somebody else's edits with those of this page on top. */
  async putMineOnTop(): Promise<void> {
    const { theirs } = this
    if (!theirs) return
    await this.#showMeasured(theirs)
    // In one go: never told as saved, nor gone from this device, before they are on top.
    const doc = putOnTop(this.#base, this.doc, theirs)
    this.#start(theirs)
    this.change({ doc, words: 'your changes on top of theirs', subject: 'on top' })
    await this.saveNow()
  }

  async dropMine(): Promise<void> {
    if (this.theirs) this.#start(this.theirs)
    await this.#parts.measured()
  }

  /** What an earlier page could not save, on top of what is stored by now. */
  putBackLeft() {
    let doc = this.doc
    for (const edits of this.left) doc = putOnTop(edits.base, edits.doc, doc)
    this.change({ doc, words: 'changes of an earlier visit', subject: 'put back' })
    // Kept under this page's name by now.
    this.dropLeft()
  }

  dropLeft() {
    this.left = []
    this.#parts.unsaved.forgetLeft()
  }

  /** The screen goes: what waits is sent; what fails stays kept in this browser. */
  leave() {
    if (this.phase === 'waiting') void this.saveNow()
    if (this.#timer !== null) clearTimeout(this.#timer)
  }

  #nowMs(): number {
    return this.#parts.nowMs?.() ?? Date.now()
  }

  #start(stored: StoredSessionEdits) {
    this.#base = stored
    this.#measured = stored
    this.#history = startHistory({ marks: stored.marks, holds: stored.holds })
    this.theirs = null
    this.problem = null
    this.phase = 'saved'
    this.#parts.unsaved.forget()
  }

  #goTo(next: EditHistory) {
    if (next === this.#history || !this.ready) return
    this.#history = next
    if (this.phase === 'conflict' || this.phase === 'saving') {
      this.#keep()
      return
    }
    this.#settle()
  }

  /** After a change: what is not on the server is kept here and sent after a pause. */
  #settle() {
    if (this.#timer !== null) clearTimeout(this.#timer)
    this.#timer = null
    if (sameEdits(this.doc, this.#base)) {
      this.phase = 'saved'
      this.problem = null
      this.#parts.unsaved.forget()
      return
    }
    this.#keep()
    this.phase = 'waiting'
    this.#timer = setTimeout(() => void this.saveNow(), this.#parts.pauseMs ?? PAUSE_MS)
  }

  #keep() {
    const { marks, holds } = this.#base
    this.#parts.unsaved.keep({ marks, holds }, this.doc, this.#nowMs())
  }

  async #save(): Promise<void> {
    const sent = this.doc
    this.phase = 'saving'
    this.problem = null
    this.measuring = true
    try {
      const stored = await this.#parts.save(sent, this.#base.version)
      this.#base = stored
      await this.#showMeasured(stored)
      this.#settle()
    } catch (cause) {
      await this.#notSaved(cause)
    } finally {
      this.measuring = false
      this.#underWay = null
    }
  }

  async #showMeasured(stored: StoredSessionEdits) {
    await this.#parts.measured()
    this.#measured = stored
  }

  async #notSaved(cause: unknown) {
    this.problem = messageOf(cause)
    if (cause instanceof ApiError && cause.missing) {
      this.phase = 'gone'
      this.#parts.unsaved.forget()
      return
    }
    this.phase = 'failed'
    if (!(cause instanceof ApiError) || cause.problem?.status !== 412) return
    try {
      const theirs = await this.#parts.load()
      if (sameEdits(theirs, this.doc)) {
        this.#start(theirs)
        await this.#parts.measured()
      } else if (sameEdits(theirs, this.#base)) {
        // Stored anew without a difference: nothing to decide.
        this.#base = theirs
        this.#settle()
      } else {
        this.theirs = theirs
        this.phase = 'conflict'
      }
    } catch (again) {
      this.problem = messageOf(again)
    }
  }
}

const messageOf = (cause: unknown): string => (cause instanceof Error ? cause.message : String(cause))
