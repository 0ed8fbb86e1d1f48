import { mkdirSync, writeFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { buildSampleFiles } from './build.ts'

const folder = dirname(fileURLToPath(import.meta.url))
mkdirSync(join(folder, 'bad'), { recursive: true })
let bytes = 0
const files = buildSampleFiles()
for (const [path, text] of files) {
  writeFileSync(join(folder, path), text)
  bytes += Buffer.byteLength(text)
}
console.log(`Wrote ${files.size} files, ${(bytes / 1e6).toFixed(2)} MB, to ${folder}`)
