/** `npm start`: gets the checkout ready and runs the server with the same arguments. */
import { prepare } from './bootstrap.mjs'

prepare({ dashboard: true })
await import('../dist/server/main.js')
