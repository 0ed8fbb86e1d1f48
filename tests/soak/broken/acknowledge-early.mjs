/**
 * Breaks a server on purpose, to see that the soak notices: samples are said to be stored at once and are
 * written half a second later. Loaded before the server's own code.
 */
import { isMainThread } from 'node:worker_threads'

const LATE_MS = 500

if (isMainThread) {
  // The very module of the built server that was started, so its address is made where it runs.
  const built = new URL('../../../dist/server/store/sqlite/threaded-writer.js', import.meta.url)
  const { ThreadedSampleWriter } = await import(built.href)
  const { appendSamples, appendLost, close } = ThreadedSampleWriter.prototype
  const late = new Set()

  /** In order, all by the same time. */
  function later(writer, write) {
    const written = new Promise((resolve) => setTimeout(resolve, LATE_MS)).then(() => write.call(writer))
    late.add(written)
    // It was acknowledged already: nobody is left to be told.
    written.catch(() => undefined).finally(() => late.delete(written))
  }

  ThreadedSampleWriter.prototype.appendSamples = async function (stream, firstIndex, columns, arrivedAtUs) {
    later(this, () => appendSamples.call(this, stream, firstIndex, columns, arrivedAtUs))
    return firstIndex + columns.values[0].length
  }
  ThreadedSampleWriter.prototype.appendLost = async function (stream, firstIndex, count) {
    later(this, () => appendLost.call(this, stream, firstIndex, count))
    return firstIndex + count
  }
  ThreadedSampleWriter.prototype.close = async function () {
    await Promise.allSettled(late)
    await close.call(this)
  }
}
