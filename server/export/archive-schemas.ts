import type { TSchema } from 'typebox'
import { ReportSchema } from '../routes/report-schema.ts'
import {
  AuditFile,
  DiaryFile,
  DogFile,
  DrawingFile,
  EditsFile,
  FORMAT_VERSION,
  ManifestFile,
  PlansFile,
  RepetitionNotesFile,
  SessionFile,
  StreamFile,
  TrendSettingsFile,
} from './archive-files.ts'

/** Each kind of JSON file in an archive, by its name. */
export const ARCHIVE_SCHEMAS = {
  'manifest.json': ManifestFile,
  'dog.json': DogFile,
  'plans.json': PlansFile,
  'diary.json': DiaryFile,
  'trend-settings.json': TrendSettingsFile,
  'audit.json': AuditFile,
  'session.json': SessionFile,
  'edits.json': EditsFile,
  'repetition-notes.json': RepetitionNotesFile,
  'report.json': ReportSchema,
  'drawing.json': DrawingFile,
  'stream.json': StreamFile,
} as const satisfies Record<string, TSchema>
export type JsonFileName = keyof typeof ARCHIVE_SCHEMAS

/** JSON Schema 2020-12 of every JSON file: schema/<name>.schema.json. */
export function schemaFiles(): { path: string; text: string }[] {
  return Object.entries(ARCHIVE_SCHEMAS).map(([name, schema]) => ({
    path: `schema/${name.replace(/\.json$/, '.schema.json')}`,
    text: jsonText({
      $schema: 'https://json-schema.org/draft/2020-12/schema',
      $id: `urn:swaybook:archive:${FORMAT_VERSION}:${name}`,
      ...schema,
    }),
  }))
}

/** As people can read it. */
export function jsonText(value: unknown): string {
  return `${JSON.stringify(value, null, 2)}\n`
}
