import type { InfluxProcess } from '../helpers/influx-server.ts'
import { PERIOD_US, STARTED_AT_US } from './streams.ts'

/** [index, ax, ay, az] of one slot as InfluxDB itself tells them, in the order of time; nothing of the store in between. */
export async function directRows(influx: InfluxProcess, database: string, slot: number): Promise<number[][]> {
  const rows = await influx.ask(`SELECT ax, ay, az FROM samples WHERE slot = '${slot}'`, database)
  return (rows as number[][]).map(([us, ...values]) => [(us - STARTED_AT_US) / PERIOD_US, ...values])
}
