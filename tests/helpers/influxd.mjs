import { spawnSync } from 'node:child_process'

/** InfluxDB 1.x, as Debian packages it (influxdb). */
export const INFLUXD = process.env.SWAYBOOK_INFLUXD || 'influxd'

export function hasInfluxd() {
  return spawnSync(INFLUXD, ['version'], { stdio: 'ignore' }).status === 0
}
