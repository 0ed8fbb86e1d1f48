import { readdirSync, readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import type { SimulationTruth } from '#signal/simulator/truth'

const folder = fileURLToPath(new URL('../../sample-traces/', import.meta.url))

/** Names of the sample traces. */
export const SAMPLES: readonly string[] = readdirSync(folder).filter(
  (name) => /\.(csv|tsv|json)$/.test(name) && !name.endsWith('.truth.json'),
)

/** Names of the samples that must be refused. */
export const BAD_SAMPLES: readonly string[] = readdirSync(`${folder}bad`)

export function samplePath(name: string): string {
  return `${folder}${name}`
}

export function sampleText(name: string): string {
  return readFileSync(samplePath(name), 'utf8')
}

/** What the simulator knows of a sample. */
export function sampleTruth(name: string): SimulationTruth {
  return JSON.parse(sampleText(name.replace(/\.\w+$/, '.truth.json'))) as SimulationTruth
}
