export const INFLUXD: string
export function hasInfluxd(): boolean
