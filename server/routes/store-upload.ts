import type { SetUp } from '#protocol/resources'
import type { AnalysisInput } from '#signal/report'
import type { AnalysisRecord } from '../store/records.ts'
import { followedBy, heldAgainst } from '../store/planned-upload.ts'
import type { Store } from '../store/store.ts'
import type { Author } from '../store/changes.ts'
import { newId } from './ids.ts'

export interface Upload {
  readonly id: string
  readonly dogId: string
  readonly contentHash: string
  readonly setUp: SetUp | null
  readonly mount: string
  readonly sensor: 'upload' | 'phone'
  readonly file: string
  readonly input: AnalysisInput
  readonly analysis: AnalysisRecord
}

/**
 * Keeps an uploaded trace with its time stamps and full precision, so that analysing it again
 * gives the same numbers. The session counts from the moment its analysis is stored; one that is
 * cut short before that is removed at the next start.
 */
export async function storeUpload({ records, series }: Store, upload: Upload, by: Author): Promise<void> {
  const { id, input } = upload
  const { t, acc, gyr, marks, startedAtUs, rateHz } = input.trace
  const followed = followedBy(await records.plans.plans(upload.dogId), startedAtUs, upload.setUp)
  const session = {
    id,
    dogId: upload.dogId,
    sensor: upload.sensor,
    fileName: upload.file,
    contentHash: upload.contentHash,
    setUp: upload.setUp,
    mount: upload.mount,
    state: 'analysing' as const,
    startedAtUs,
    planned: followed?.planned ?? null,
  }
  await records.addSession(session, by)
  try {
    const stream = newId()
    await series.addStream({
      id: stream,
      sessionId: id,
      kind: 'trace',
      columns: ['t', 'ax', 'ay', 'az', ...(gyr ? ['gx', 'gy', 'gz'] : [])],
      rateHz,
      startedAtUs,
      resolutionMs2: null,
      source: {
        unit: input.unit,
        stampResolutionS: input.stampResolutionS,
        duplicates: input.duplicates,
        unusedSamples: input.unusedSamples,
        notes: input.notes,
      },
    })
    const values = [t, acc.x, acc.y, acc.z, ...(gyr ? [gyr.x, gyr.y, gyr.z] : [])]
    await series.appendSamples(stream, 0, { dtype: 'float64', values })
    await series.complete(stream)
    await records.addMarks(
      id,
      marks.map(({ atS, kind, note }) => ({ id: newId(), atS, kind, note: note ?? null })),
    )
    const { analysis } = upload
    const report = followed ? heldAgainst(analysis.report, followed.limits) : analysis.report
    await records.saveAnalysis(id, { ...analysis, report })
  } catch (error) {
    await records.deleteSession(id)
    throw error
  }
}
