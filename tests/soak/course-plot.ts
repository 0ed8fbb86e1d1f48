import type { SoakResult } from './result.ts'
export function coursePlot(_result: SoakResult): string {
  return ''
}
