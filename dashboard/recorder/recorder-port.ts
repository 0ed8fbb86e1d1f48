import type { FromRecorder, ToRecorder } from './messages'

/** The recorder as the window sees it. */
export interface RecorderPort {
  post(message: ToRecorder): void
  close(): void
}

export type OpenRecorder = (onMessage: (message: FromRecorder) => void) => RecorderPort

/** Starts the recorder in a Worker of its own: timers of a hidden page are slowed down, its are not. */
export const openRecorder: OpenRecorder = (onMessage) => {
  const worker = new Worker(new URL('./recorder.worker.ts', import.meta.url), { type: 'module' })
  worker.onmessage = (event: MessageEvent<FromRecorder>) => onMessage(event.data)
  worker.onerror = (event) => {
    onMessage({ type: 'failed', message: event.message || 'The recorder of this browser stopped.' })
  }
  return { post: (message) => worker.postMessage(message), close: () => worker.terminate() }
}
