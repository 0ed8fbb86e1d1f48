import { recordedSession, simulateDelivery } from '#signal/simulator/delivery'
import { simulateSession } from '#signal/simulator/session'
import type { SimulatedSession } from '#signal/simulator/truth'
import { badSamples } from './bad-samples.ts'
import { formatTrace } from './formats.ts'
import { readmeText } from './readme.ts'
import { SAMPLES } from './samples.ts'
import type { Sample } from './samples.ts'

/** Every generated file of the folder: path within it → text. The same code gives the same bytes. */
export function buildSampleFiles(): ReadonlyMap<string, string> {
  const files = new Map<string, string>()
  const built = SAMPLES.map((sample) => ({ sample, session: playSample(sample) }))
  for (const { sample, session } of built) {
    files.set(sample.file, formatTrace(session.trace, sample.form))
    files.set(truthFile(sample.file), truthText(sample, session))
  }
  const bad = badSamples()
  for (const { file, text } of bad) files.set(`bad/${file}`, text)
  files.set('README.md', readmeText(built, bad))
  return files
}

/** The recording behind a sample file, before it is rounded into text. */
export function playSample({ script, delivery }: Sample): SimulatedSession {
  const session = simulateSession(script)
  return delivery ? recordedSession(session, simulateDelivery(session, delivery)) : session
}

export function truthFile(file: string): string {
  return file.replace(/\.\w+$/, '.truth.json')
}

function truthText(sample: Sample, { trace, truth }: SimulatedSession): string {
  const head = { file: sample.file, nominalRateHz: trace.rateHz, samples: trace.t.length }
  const rounded = (_: string, value: unknown): unknown =>
    typeof value === 'number' ? Number(value.toFixed(6)) : value
  return JSON.stringify({ ...head, ...truth }, rounded, 2) + '\n'
}
