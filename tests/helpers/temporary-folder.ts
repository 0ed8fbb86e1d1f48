import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

/** A folder for all tests of a file, which removes it when they are through. */
export function temporaryFolder(): { readonly path: string; remove(): void } {
  const path = mkdtempSync(join(tmpdir(), 'swaybook-test-'))
  return { path, remove: () => rmSync(path, { recursive: true, force: true }) }
}
