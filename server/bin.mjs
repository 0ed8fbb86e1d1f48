#!/usr/bin/env node
/** `npx swaybook …`: gets the checkout ready and runs the command line. */
import { prepare } from './bootstrap.mjs'

prepare({ dashboard: false })
const { main } = await import('../dist/server/cli/main.js')
process.exitCode = await main(process.argv.slice(2))
