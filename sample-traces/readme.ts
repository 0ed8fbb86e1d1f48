import type { SimulatedSession } from '#signal/simulator/truth'
import type { BadSample } from './bad-samples.ts'
import type { TraceForm } from './formats.ts'
import type { Sample } from './samples.ts'

const INTRO = `# Sample traces

Recordings of an invented dog, Juniper, made by the simulator in \`signal/simulator/\`; nothing here was measured on an
animal. \`npm run samples\` writes this folder anew, byte for byte the same. Licence: MIT, as the project.

Beside each trace, \`<name>.truth.json\` tells what really happened, in seconds from the first sample: stands
(\`stableIntervals\`), their hands-on and hands-off parts (\`holds\`), steps, sits, tremor, panting, tail wag, the rotation of
the mount (\`dog = mountRotation · sensor\`), the true rate and the samples lost. \`swayRmsHorizontal\` (m/s²) is the sway of
the noise-free motion by the project's definition. An interval begins where the transient before it has died away
to 5 % of its peak and ends where the next one reaches 5 %. Quiet stands are no holds there; without marks, a recording
that is one stand from end to end is still reported as one, since nothing tells it from an exercise.
`

/** README of the folder: what each file holds. */
export function readmeText(
  built: readonly { sample: Sample; session: SimulatedSession }[],
  bad: readonly BadSample[],
): string {
  const traces = built.map(({ sample, session }) => {
    const { holds } = session.truth
    const off = holds.filter(({ support }) => support === 'hands-off').length
    const durationS = session.trace.t[session.trace.t.length - 1]
    return [
      `\`${sample.file}\``,
      sample.holds,
      `${sample.script.rateHz} Hz`,
      `${Math.round(durationS)} s`,
      sample.form.accUnit.replace('m/s2', 'm/s²'),
      formWords(sample.form),
      `${holds.length} (${off})`,
    ]
  })
  return [
    INTRO,
    table(['File', 'What it holds', 'Rate', 'Length', 'Unit', 'Format', 'Holds (hands-off)'], traces),
    '\nFiles in `bad/` must be refused with a message that says what, where and what to do:\n',
    table(
      ['File', 'What is wrong'],
      bad.map(({ file, wrong }) => [`\`${file}\``, wrong]),
    ),
    '',
  ].join('\n')
}

function formWords(form: TraceForm): string {
  if (form.kind === 'json') return 'JSON with marks'
  const separators = { ',': 'commas', ';': 'semicolons, decimal commas', '\t': 'tabs' }
  const times = {
    s: 'seconds',
    ms: 'milliseconds',
    'epoch ms': 'milliseconds since 1970',
    iso: 'ISO 8601 stamps',
  }
  return `${form.kind.toUpperCase()}, ${separators[form.delimiter]}, ${times[form.time]}${form.marks ? ', marks' : ''}`
}

/** A Markdown table with aligned columns. */
function table(header: readonly string[], rows: readonly (readonly string[])[]): string {
  const widths = header.map((name, column) => Math.max(name.length, ...rows.map((row) => row[column].length)))
  const line = (cells: readonly string[]): string =>
    `| ${cells.map((cell, column) => cell.padEnd(widths[column])).join(' | ')} |`
  return [line(header), line(widths.map((width) => '-'.repeat(width))), ...rows.map(line)].join('\n')
}
