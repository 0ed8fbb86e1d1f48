/** `npm run soak`: see options.ts for what it understands, DEVELOPERS.md "Load" for how to read it. */
import { mkdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { prepare } from '../../server/bootstrap.mjs'
import { courseCsv } from './course-csv.ts'
import { coursePlot } from './course-plot.ts'
import { HELP, readCommandLine } from './options.ts'
import type { CommandLine } from './options.ts'
import { resultText } from './result-text.ts'
import { runSoak } from './run.ts'

const STATUS_EVERY_MS = 20_000

async function main(): Promise<void> {
  const commandLine = readCommandLine(process.argv.slice(2))
  if (commandLine === 'help') {
    console.log(HELP)
    return
  }
  prepare({ dashboard: false })
  await soak(commandLine)
}

async function soak({ options, outFolder }: CommandLine): Promise<void> {
  const stop = new AbortController()
  process.once('SIGINT', () => stop.abort(new Error('stopped by Ctrl+C')))
  process.once('SIGTERM', () => stop.abort(new Error('stopped')))
  let saidMs = 0
  const result = await runSoak(options, {
    signal: stop.signal,
    say: (text) => console.error(`${new Date().toISOString().slice(11, 19)} ${text}`),
    progress: ({ atMs, taken, acknowledged, sendersConnected, recordingsFinished, latencyMs }) => {
      if (atMs - saidMs < STATUS_EVERY_MS) return
      saidMs = atMs
      console.error(
        `${new Date(atMs).toISOString().slice(11, 19)} ${acknowledged} of ${taken} samples acknowledged, ` +
          `${sendersConnected} senders connected, ${recordingsFinished} recordings finished, ` +
          `p99 ${latencyMs ? latencyMs.p99.toFixed(0) : '–'} ms`,
      )
    },
  })
  mkdirSync(outFolder, { recursive: true })
  writeFileSync(join(outFolder, 'result.json'), JSON.stringify(result))
  writeFileSync(join(outFolder, 'course.csv'), courseCsv(result))
  writeFileSync(join(outFolder, 'course.svg'), coursePlot(result))
  console.log(resultText(result))
  if (result.problems.length > 0) process.exitCode = 1
}

main().catch((error: unknown) => {
  console.error(`soak: ${error instanceof RangeError ? error.message : (error as Error).stack}`)
  process.exitCode = 1
})
