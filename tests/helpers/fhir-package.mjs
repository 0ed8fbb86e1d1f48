import { spawnSync } from 'node:child_process'
import { existsSync, mkdtempSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

/**
 * The unpacked package hl7.fhir.r5.core 5.0.0, or null: the folder that SWAYBOOK_FHIR_PACKAGE names, else,
 * with CI set, fetched into a temporary folder. It is no dependency: 16 MB for one test.
 */
export function fhirPackage() {
  const given = process.env.SWAYBOOK_FHIR_PACKAGE
  if (given) return existsSync(join(given, 'openapi/fhir.schema.json')) ? given : null
  if (!process.env.CI) return null
  const folder = mkdtempSync(join(tmpdir(), 'swaybook-fhir-'))
  const run = (command, args) => spawnSync(command, args, { cwd: folder, stdio: 'ignore' }).status === 0
  const fetched =
    run('npm', ['pack', 'hl7.fhir.r5.core@5.0.0']) && run('tar', ['xzf', 'hl7.fhir.r5.core-5.0.0.tgz'])
  return fetched ? join(folder, 'package') : null
}
