export type Phase = 'starting' | 'running' | 'stopping'

/**
 * Where the server is between its start and its end, and what has to be said goodbye to before connections close:
 * each farewell resolves when its connection has been told everything.
 */
export class Lifecycle {
  readonly farewells = new Set<() => Promise<void>>()
  #phase: Phase = 'starting'

  get phase(): Phase {
    return this.#phase
  }

  started(): void {
    if (this.#phase === 'starting') this.#phase = 'running'
  }

  /** Resolves when all farewells are through, or after `boundMs`. */
  async stop(boundMs: number): Promise<void> {
    this.#phase = 'stopping'
    let timer: NodeJS.Timeout | undefined
    const bound = new Promise<void>((resolve) => (timer = setTimeout(resolve, boundMs)))
    await Promise.race([Promise.allSettled([...this.farewells].map((farewell) => farewell())), bound])
    clearTimeout(timer)
  }
}
