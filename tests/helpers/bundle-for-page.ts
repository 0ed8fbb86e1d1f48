import { fileURLToPath } from 'node:url'
import { build } from 'vite'

/**
 * A module of the dashboard with all it imports, as a script that defines a global `name`: for pages
 * under the product's own content policy, which take no script but an evaluated one.
 */
export async function bundleForPage(entry: string, name: string): Promise<string> {
  const result = await build({
    configFile: false,
    logLevel: 'silent',
    resolve: { conditions: ['source'] },
    build: {
      write: false,
      minify: false,
      lib: { entry: fileURLToPath(new URL(`../../${entry}`, import.meta.url)), formats: ['iife'], name },
    },
  })
  const outputs = Array.isArray(result) ? result : [result]
  const chunk = outputs
    .flatMap((one) => ('output' in one ? one.output : []))
    .find(({ type }) => type === 'chunk')
  if (chunk?.type !== 'chunk') throw new Error(`${entry} gave no script`)
  return chunk.code
}
