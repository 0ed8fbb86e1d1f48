/**
 * Writes RESULT.md and its plots beside it from the result.json of one or more runs:
 * `node --conditions=source --import tsx tests/soak/write-result.ts <result.json> …`
 */
import { readFileSync, writeFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { format, resolveConfig } from 'prettier'
import { coursePlot } from './course-plot.ts'
import { flatnessOf } from './flatness.ts'
import { resultPage } from './result-page.ts'
import type { SoakResult } from './result.ts'

const here = (file: string) => fileURLToPath(new URL(file, import.meta.url))

const results = process.argv.slice(2).map((file) => {
  const result = JSON.parse(readFileSync(file, 'utf8')) as SoakResult
  const { usage, lives } = result.course
  return { ...result, flatness: flatnessOf(usage, lives) }
})
if (results.length === 0) throw new RangeError('write-result requires the path of a result.json')
for (const result of results) writeFileSync(here(`./${result.options.series}.svg`), coursePlot(result))
const page = here('./RESULT.md')
const style = await resolveConfig(page)
writeFileSync(page, await format(resultPage(results), { ...style, parser: 'markdown' }))
