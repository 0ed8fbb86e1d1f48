/** Stored data, a backup or a folder that cannot be used as asked; the message says where and what to do. */
export class UpkeepError extends Error {
  override readonly name = 'UpkeepError'
}
