import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { usageOf } from '../bench/live/process-usage.ts'

export interface ProcessUsage {
  readonly residentMb: number
  readonly cpuS: number
  readonly openFiles: number
}

/** What the system knows of a process; null when it is gone, or where there is no /proc. */
export function processUsage(pid: number): ProcessUsage | null {
  const files = `/proc/${pid}/fd`
  if (!existsSync(files)) return null
  try {
    const { residentMb, cpuS } = usageOf(pid)
    // A process that has ended and was not waited for has no memory any more.
    if (!residentMb || cpuS === null) return null
    return { residentMb, cpuS, openFiles: readdirSync(files).length }
  } catch (error) {
    if (isGone(error)) return null
    throw error
  }
}

/** Most memory the process ever had resident, MB. */
export function peakResidentMb(pid: number): number | null {
  try {
    const kB = /VmHWM:\s+(\d+) kB/.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))?.[1]
    return kB === undefined ? null : Number(kB) / 1024
  } catch (error) {
    if (isGone(error)) return null
    throw error
  }
}

/** It ended between two looks. */
function isGone(error: unknown): boolean {
  return ['ENOENT', 'ESRCH'].includes((error as NodeJS.ErrnoException).code ?? '')
}
