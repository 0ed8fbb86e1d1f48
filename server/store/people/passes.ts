/** What a cookie proves. */
export interface PassRecord {
  /** SHA-256 of the secret. */
  readonly hash: string
  readonly id: string
  readonly kind: 'sign-in' | 'demo' | 'share' | 'paired'
  /** Of a sign-in, and of the demo's own client. */
  readonly personId: string | null
  readonly shareId: string | null
  /** Of a paired device: the one session it may record. */
  readonly sessionId: string | null
  readonly device: string
  readonly createdAtMs: number
  readonly lastSeenAtMs: number
  readonly expiresAtMs: number
}

export type NewPass = Omit<PassRecord, 'lastSeenAtMs'>

/** Passes go with what they are for: person, share or session. */
export interface PassRecords {
  add(pass: NewPass): Promise<void>
  /** As it is stored, too old or not. */
  find(hash: string): Promise<PassRecord | null>
  /** Seen now; of a person as well. */
  touch(hash: string, nowMs: number): Promise<void>
  remove(hash: string): Promise<void>
  /** Sign-ins of a person, newest first. */
  ofPerson(personId: string): Promise<PassRecord[]>
  /** Of that person only. */
  removeOne(personId: string, id: string): Promise<boolean>
  /** All sign-ins of the person but one. */
  removeOthers(personId: string, hash: string): Promise<void>
  /** Ends sign-ins of the person but the `count` that were used last. */
  keepNewest(personId: string, count: number): Promise<void>
  /** Those past their end, and sign-ins last seen at `idleSinceMs` or before. */
  removeOver(nowMs: number, idleSinceMs: number): Promise<void>
  /** Those of a demo that ended with its process. */
  removeDemos(): Promise<void>
}
