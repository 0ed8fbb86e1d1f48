import { readdirSync, statSync } from 'node:fs'
import { join } from 'node:path'

/** All files below `folder`, bytes. Files that go away meanwhile do not count. */
export function folderBytes(folder: string): number {
  let bytes = 0
  for (const entry of readdirSync(folder, { withFileTypes: true, recursive: true })) {
    if (entry.isFile())
      bytes += statSync(join(entry.parentPath, entry.name), { throwIfNoEntry: false })?.size ?? 0
  }
  return bytes
}
