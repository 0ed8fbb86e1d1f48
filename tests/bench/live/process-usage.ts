import { existsSync, readFileSync } from 'node:fs'
import { cpus } from 'node:os'

/** Clock ticks per second of /proc on every Linux that Node runs on (proc(5), `sysconf(_SC_CLK_TCK)`). */
const TICKS_PER_S = 100

export interface Usage {
  readonly atMs: number
  /** User and system time since the process began, s; null where there is no /proc. */
  readonly cpuS: number | null
  readonly residentMb: number | null
  /** Processor seconds of the whole machine since it started, all cores. */
  readonly machineS: number
}

/** What a process and the machine have used so far. */
export function usageOf(pid: number): Usage {
  const atMs = performance.now()
  const busy = cpus().map(({ times: { user, nice, sys, irq } }) => user + nice + sys + irq)
  const machineS = busy.reduce((sum, ms) => sum + ms, 0) / 1000
  if (!existsSync(`/proc/${pid}/stat`)) return { atMs, cpuS: null, residentMb: null, machineS }
  const stat = readFileSync(`/proc/${pid}/stat`, 'utf8')
  // The name in brackets may hold spaces: fields count from after it (utime is field 14 of 1…).
  const fields = stat.slice(stat.lastIndexOf(')') + 2).split(' ')
  const cpuS = (Number(fields[11]) + Number(fields[12])) / TICKS_PER_S
  const status = readFileSync(`/proc/${pid}/status`, 'utf8')
  const residentMb = Number(/VmRSS:\s+(\d+) kB/.exec(status)?.[1]) / 1024
  return { atMs, cpuS, residentMb, machineS }
}
