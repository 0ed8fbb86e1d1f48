import { main } from './main.ts'

// Whoever closes the pipe early (`| head -1`) has read what they wanted: that is no failure.
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  if (error.code !== 'EPIPE') throw error
})
// Backups, restored data, whatever a command writes: for this account alone.
process.umask(0o077)
process.exitCode = await main(process.argv.slice(2))
