import { createContext } from 'svelte'
import type { RecordingDesk } from './recording-desk.svelte'
import type { Router } from './router.svelte'

/** What the app root provides to every screen. */
export const [useRouter, provideRouter] = createContext<Router>()
export const [useRecordingDesk, provideRecordingDesk] = createContext<RecordingDesk>()
