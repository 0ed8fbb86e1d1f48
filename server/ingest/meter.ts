/** Counts what goes through the recorders. */
export interface IngestMeter {
  /** Samples taken from senders, without those that were there already. */
  received(samples: number): void
  /** Samples that senders declared lost. */
  lost(samples: number): void
  /** Samples that are durable now, `seconds` after they were given to the store. */
  stored(samples: number, seconds: number): void
  /** The store did not take something. */
  failed(error: unknown): void
}

export const NO_METER: IngestMeter = {
  received: () => undefined,
  lost: () => undefined,
  stored: () => undefined,
  failed: () => undefined,
}
