import { readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname } from 'node:path'
import { afterAll, expect, it } from 'vitest'
import { fhirPackage } from '../helpers/fhir-package.mjs'
import { trimmed } from './fhir/trim.mjs'

const mustRun = Boolean(process.env.CI)
const folder = fhirPackage()
afterAll(() => {
  if (folder?.startsWith(tmpdir()) && !process.env.SWAYBOOK_FHIR_PACKAGE) {
    rmSync(dirname(folder), { recursive: true, force: true })
  }
})
if (!folder && !mustRun) {
  process.stderr.write(
    '\nSKIPPED: the committed FHIR schema was NOT made anew. Unpack hl7.fhir.r5.core 5.0.0 and set\n' +
      'SWAYBOOK_FHIR_PACKAGE to its folder; with CI set it is fetched, and this is a failure.\n\n',
  )
}

it.skipIf(!folder && !mustRun)(
  'the committed FHIR schema and codes are what trim.mjs makes of hl7.fhir.r5.core 5.0.0',
  { timeout: 120_000 },
  () => {
    for (const [name, text] of Object.entries(trimmed(folder!))) {
      expect(text === readFileSync(new URL(`fhir/${name}`, import.meta.url), 'utf8'), name).toBe(true)
    }
  },
)
