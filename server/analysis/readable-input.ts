import type { AnalysisInput } from '#signal/report'
import type { Mark } from '#signal/trace/trace'
import type { UnreadablePart } from '#protocol/unreadable-part'
import type { Store } from '../store/store.ts'
import { storedInput } from './stored-input.ts'
import { partsInWords, unreadableParts } from './unreadable-parts.ts'

/**
 * What of a damaged recording can be read: the samples jump over the rest, which is what a gap is in every format,
 * and a note where it begins says why. Null when nothing can be read.
 */
export async function readableInput(
  store: Pick<Store, 'records' | 'series'>,
  sessionId: string,
): Promise<{ readonly input: AnalysisInput; readonly parts: UnreadablePart[] } | null> {
  const parts = await unreadableParts(store, sessionId)
  const input = await storedInput(store, sessionId, { leaveOutDamaged: true })
  if (!input) return null
  const { trace } = input
  const marks = [...trace.marks, ...parts.map(noteOf)].sort((a, b) => a.atS - b.atS)
  return { input: { ...input, trace: { ...trace, marks } }, parts }
}

function noteOf(part: UnreadablePart): Mark {
  const note = `Not in this file: stored samples from ${partsInWords([part])} are damaged and cannot be read.`
  return { atS: part.fromS, kind: 'note', note }
}
