import type { Flatness } from './flatness.ts'
import type { SoakResult } from './result.ts'

/** The figures of a run as two Markdown tables and the problems. */
export function resultText(result: SoakResult): string {
  const { problems, flatness } = result
  const tables = [table(['what', 'count'], figures(result)), flatnessTable(flatness)]
  return `${tables.join('\n\n')}\n\n${problemText(problems)}\n`
}

function figures(result: SoakResult): string[][] {
  const { options, recordings, samples, faults, latencyMs, restartMs, minutes } = result
  const { throughApi, inStore, inInflux } = samples
  const wrong = ({ lost, doubled, disordered, unknown }: typeof throughApi) =>
    `${lost} / ${doubled} / ${disordered} / ${unknown}`
  const ms = (value: number) => (value < 100 ? value.toFixed(1) : grouped(Math.round(value)))
  return [
    ['streams, one viewer each', String(options.streams)],
    ['minutes, the end included', minutes.toFixed(1)],
    ['kills of the server, -9', `${faults.server.hits}`],
    ...(options.series === 'influx' ? [['kills of influxd, -9', String(faults.influxd.hits)]] : []),
    ['network faults / connections hit', `${faults.network.done} / ${grouped(faults.network.hits)}`],
    ['recordings, all finished and analysed', `${recordings.finished} of ${recordings.all}`],
    ['marks confirmed and found', grouped(recordings.marks)],
    ['connections of senders', grouped(recordings.connections)],
    ['samples acknowledged', grouped(samples.acknowledged)],
    ['samples sent again that the server had', grouped(samples.sentTwice)],
    [
      'samples lost on the radio / ranges, as declared',
      `${grouped(samples.lostOnRadio)} / ${grouped(samples.lostRanges)}`,
    ],
    ['**through the API: lost / doubled / out of order / changed**', `**${wrong(throughApi)}**`],
    ['**from the store of the stopped server: the same**', `**${wrong(inStore)}**`],
    ...(inInflux ? [['**asked of InfluxDB itself: the same**', `**${wrong(inInflux)}**`]] : []),
    ['restart to listening, median / longest, ms', `${ms(restartMs.median)} / ${ms(restartMs.longest)}`],
    [
      'sample to viewer away from kills, median of p50 / of p99, ms',
      `${ms(latencyMs.calm.p50)} / ${ms(latencyMs.calm.p99)}`,
    ],
  ]
}

function flatnessTable(flatness: readonly Flatness[]): string {
  const rows = flatness.map(
    ({ quantity, unit, over, level, points, slopePerHour, lowPerHour, highPerHour }) => [
      unit === '' ? quantity : `${quantity}, ${unit}`,
      over,
      level.toFixed(1),
      `${signed(slopePerHour)} (${signed(lowPerHour)} to ${signed(highPerHour)})`,
      String(points),
    ],
  )
  return table(['of the server', 'over', 'level', 'slope per hour (95 % interval)', 'points'], rows)
}

export function problemText(problems: readonly string[]): string {
  if (problems.length === 0) return 'Nothing else to report: no problem was found.'
  const shown = problems.slice(0, 30).map((text) => `- ${text}`)
  const more = problems.length - shown.length
  return [`${problems.length} PROBLEMS`, '', ...shown, ...(more > 0 ? [`- and ${more} more`] : [])].join('\n')
}

function table(head: readonly string[], rows: readonly (readonly string[])[]): string {
  const line = (cells: readonly string[]) => `| ${cells.join(' | ')} |`
  return [line(head), line(head.map((_, i) => (i === 0 ? '---' : '---:'))), ...rows.map(line)].join('\n')
}

const grouped = (value: number) => String(value).replace(/\B(?=(\d{3})+$)/g, ' ')
const signed = (value: number) => `${value < 0 ? '−' : '+'}${Math.abs(value).toFixed(1)}`
