#!/usr/bin/env node
/** `npx swaybook …`: gets the checkout ready and runs the command line. */
import { prepare } from './bootstrap.mjs'

prepare({ dashboard: false })
// Whoever closes the pipe early (`| head -1`) has read what they wanted: that is no failure.
process.stdout.on('error', (error) => {
  if (error.code !== 'EPIPE') throw error
})
const { main } = await import('../dist/server/cli/main.js')
process.exitCode = await main(process.argv.slice(2))
