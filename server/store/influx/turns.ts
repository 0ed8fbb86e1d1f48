/** Lets one after the other: what writes to InfluxDB and what deletes there must not cross. */
export class Turns {
  #last: Promise<unknown> = Promise.resolve()

  take<T>(work: () => Promise<T>): Promise<T> {
    const done = this.#last.then(work)
    this.#last = done.catch(() => undefined)
    return done
  }
}
