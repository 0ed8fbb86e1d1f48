import { mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { stage } from '#server/import/stage'
import { ARCHIVE_LIMITS } from '#server/import/zip-entries'

/** What reading the archive throws, as the thread of an import does it; null when it is taken. */
export async function refusal(zip: Uint8Array): Promise<Error | null> {
  const folder = await mkdtemp(join(tmpdir(), 'swaybook-stage-'))
  try {
    const [zipPath, stagingDir] = [join(folder, 'archive.zip'), join(folder, 'staging')]
    await mkdir(stagingDir)
    await writeFile(zipPath, zip)
    await stage({ zipPath, stagingDir, limits: ARCHIVE_LIMITS, found: () => undefined })
    return null
  } catch (error) {
    return error as Error
  } finally {
    await rm(folder, { recursive: true, force: true })
  }
}
