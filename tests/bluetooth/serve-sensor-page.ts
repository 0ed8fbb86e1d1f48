import { once } from 'node:events'
import { createServer } from 'node:http'
import type { AddressInfo } from 'node:net'
import { fileURLToPath } from 'node:url'
import { build, defaultClientConditions } from 'vite'
import type { Rolldown } from 'vite'

const PAGE = `<!doctype html><title>Sensor</title>
<button id="connect">Connect</button><button id="reconnect">Reconnect</button><button id="stop">Stop</button>
<script type="module" src="/page.js"></script>`

/** Serves `sensor-page.ts`, bundled as the dashboard is, on a free port of this machine. */
export async function serveSensorPage(): Promise<{ url: string; close(): Promise<void> }> {
  const script = await bundled(fileURLToPath(new URL('sensor-page.ts', import.meta.url)))
  const server = createServer((request, response) => {
    const isScript = request.url === '/page.js'
    response.setHeader('content-type', isScript ? 'text/javascript' : 'text/html')
    response.end(isScript ? script : PAGE)
  })
  server.listen(0, '127.0.0.1')
  await once(server, 'listening')
  return {
    url: `http://127.0.0.1:${(server.address() as AddressInfo).port}/`,
    close: () => new Promise((resolve) => void server.close(() => resolve()).closeAllConnections()),
  }
}

async function bundled(entry: string): Promise<string> {
  const result = await build({
    configFile: false,
    logLevel: 'warn',
    resolve: { conditions: ['source', ...defaultClientConditions] },
    build: { write: false, minify: false, lib: { entry, formats: ['es'] } },
  })
  const [output] = result as Rolldown.RolldownOutput[]
  return output.output[0].code
}
