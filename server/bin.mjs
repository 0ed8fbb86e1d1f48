#!/usr/bin/env node
/** `npx swaybook …`: gets the checkout ready and runs the command line. */
import { prepare } from './bootstrap.mjs'

prepare({ dashboard: false })
await import('../dist/server/cli/run.js')
