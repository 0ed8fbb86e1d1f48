import type { Finding } from '../upkeep/finding.ts'

/** One line each, indented. */
export function findingLines(findings: readonly Finding[]): string {
  return findings.map(({ text }) => `  - ${text}\n`).join('')
}
