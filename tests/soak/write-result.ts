/**
 * Writes RESULT.md and its plots beside it from the result.json of one or more runs:
 * `node --conditions=source --import tsx tests/soak/write-result.ts <result.json> …`
 */
import { readFileSync, writeFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { coursePlot } from './course-plot.ts'
import { resultPage } from './result-page.ts'
import type { SoakResult } from './result.ts'

const here = (file: string) => fileURLToPath(new URL(file, import.meta.url))

const results = process.argv.slice(2).map((file) => JSON.parse(readFileSync(file, 'utf8')) as SoakResult)
if (results.length === 0) throw new RangeError('write-result requires the path of a result.json')
for (const result of results) writeFileSync(here(`./${result.options.series}.svg`), coursePlot(result))
writeFileSync(here('./RESULT.md'), resultPage(results))
