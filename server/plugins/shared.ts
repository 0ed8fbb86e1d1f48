import type { FastifyPluginAsync } from 'fastify'

/**
 * A plugin whose hooks and decorators reach the whole app instead of its own scope, under a name
 * that shows in Fastify's plugin list (Fastify documentation, "Plugins": skip-override).
 */
export function shared<Options extends object>(
  name: string,
  plugin: FastifyPluginAsync<Options>,
): FastifyPluginAsync<Options> {
  return Object.assign(plugin, {
    [Symbol.for('skip-override')]: true,
    [Symbol.for('fastify.display-name')]: name,
  })
}
