import { spawnSync } from 'node:child_process'

const TOOLS = ['pdfinfo', 'pdftotext', 'pdffonts', 'pdftoppm']

/** Whether the tools that read a PDF are there (Debian: poppler-utils). */
export function hasPoppler() {
  return TOOLS.every((tool) => spawnSync(tool, ['-v'], { stdio: 'ignore' }).status === 0)
}
