/** A setting that cannot be used; the message names the setting, its value and what to do. */
export class ConfigError extends Error {
  override readonly name = 'ConfigError'
}
