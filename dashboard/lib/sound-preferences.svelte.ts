import { Preference } from './preferences.svelte'

/** What this browser sounds like during a hold. Off until somebody asks: the dog hears it too. */
export const soundMode = new Preference<'off' | 'tick' | 'tone'>(
  'swaybook.sound',
  ['off', 'tick', 'tone'],
  'off',
)
export const soundPitch = new Preference<'usual' | 'low'>('swaybook.sound-pitch', ['usual', 'low'], 'usual')
export const soundVolume = new Preference<string>(
  'swaybook.sound-volume',
  Array.from({ length: 21 }, (_, k) => String(k * 5)),
  '40',
)
export const spokenCounts = new Preference<'off' | 'on'>('swaybook.spoken', ['off', 'on'], 'off')
export const vibration = new Preference<'off' | 'on'>('swaybook.vibration', ['off', 'on'], 'off')
