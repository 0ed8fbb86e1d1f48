/**
 * A reader of the Prometheus text format 0.0.4, written from its description ("Exposition formats", Prometheus
 * documentation) and not from the library that writes it here.
 */
export interface Sample {
  readonly name: string
  readonly labels: Readonly<Record<string, string>>
  readonly value: number
}

export interface Family {
  readonly name: string
  help: string | null
  type: string | null
  readonly samples: Sample[]
}

const NAME = '[a-zA-Z_:][a-zA-Z0-9_:]*'
const LABEL = '[a-zA-Z_][a-zA-Z0-9_]*="(?:[^"\\\\\\n]|\\\\["\\\\n])*"'
const HELP = new RegExp(`^# HELP (${NAME}) (.+)$`)
const TYPE = new RegExp(`^# TYPE (${NAME}) (counter|gauge|histogram|summary|untyped)$`)
const SAMPLE = new RegExp(`^(${NAME})(?:\\{(${LABEL}(?:,${LABEL})*)\\})? (\\S+)(?: -?\\d+)?$`)

/** Throws at the first line that the grammar does not know. */
export function parseExposition(text: string): Map<string, Family> {
  if (!text.endsWith('\n')) throw new Error('the last line must end with a line feed')
  const families = new Map<string, Family>()
  const family = (name: string) => {
    const known = families.get(name) ?? { name, help: null, type: null, samples: [] }
    families.set(name, known)
    return known
  }
  for (const line of text.split('\n')) {
    const help = HELP.exec(line)
    const type = TYPE.exec(line)
    if (line === '') continue
    else if (help) family(help[1]).help = help[2]
    else if (type) {
      const of = family(type[1])
      if (of.type !== null || of.samples.length > 0) throw new Error(`a second or late TYPE: ${line}`)
      of.type = type[2]
    } else if (!line.startsWith('#')) {
      const match = SAMPLE.exec(line)
      if (!match) throw new Error(`not a sample: ${line}`)
      const [, name, labels = '', value] = match
      const owner = families.get(name) ?? families.get(name.replace(/_(bucket|sum|count)$/, ''))
      if (!owner) throw new Error(`a sample without TYPE: ${line}`)
      owner.samples.push({ name, labels: labelsOf(labels), value: numberOf(value) })
    }
  }
  return families
}

function labelsOf(text: string): Record<string, string> {
  const pairs = text.matchAll(/([a-zA-Z_][a-zA-Z0-9_]*)="((?:[^"\\\n]|\\["\\n])*)"/g)
  return Object.fromEntries(
    [...pairs].map(([, name, value]) => [name, value.replace(/\\(["\\])/g, '$1').replaceAll('\\n', '\n')]),
  )
}

function numberOf(text: string): number {
  const value = text === '+Inf' ? Infinity : text === '-Inf' ? -Infinity : Number(text)
  // Go's ParseFloat, which the description refers to, takes NaN in any case.
  if (Number.isNaN(value) && !/^nan$/i.test(text)) throw new Error(`not a number: ${text}`)
  return value
}
