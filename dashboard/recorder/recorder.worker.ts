import type { ToRecorder } from './messages'
import { StreamRecorder } from './stream-recorder'

const recorder = new StreamRecorder((message) => self.postMessage(message))
self.onmessage = (event: MessageEvent<ToRecorder>) => recorder.receive(event.data)
