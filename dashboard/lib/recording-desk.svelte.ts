import type { Recording } from './recording.svelte'

/** The recording of this browser tab, at most one at a time; it outlives the screens. */
export class RecordingDesk {
  current = $state.raw<Recording | null>(null)

  begin(recording: Recording) {
    if (this.current?.active) throw new Error('This browser is already recording a session.')
    this.current = recording
    recording.start()
  }
}
