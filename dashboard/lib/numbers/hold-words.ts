import type { Explained } from './explained'

export const holdWords: readonly Explained[] = [
  {
    id: 'hold',
    title: 'Hold, and hands-off hold time',
    what: 'A hold is a stretch of at least 1 s in which the dog stands stably in its stance, and the hands-off hold time is the part of all holds in which nobody had hands on the dog, as a person marked it.',
    moves:
      'The surface and how soft it is, the spacing from fore to hind paws, tiredness, excitement, a noise in the house, a treat in view. A step, a strong push or sitting down ends a hold. The handler moves the number too: a mark tapped a second late is a second in the number, and a hold that is rewarded at its target ends there.',
    cannot:
      'Why a hold ended, which leg gave way, or whether anything hurt. One sensor on the trunk cannot tell a dog lying still from one standing still: repetitions are bracketed by marks, or by the dog getting up. Where nobody marked hands-on and hands-off, Swaybook does not know whose work a hold was and gives no hands-off time.',
    noise:
      'Hold times jump from day to day. A few seconds more or less on one day say nothing; many sessions on one set-up do.',
  },
  {
    id: 'best-hold',
    title: 'Best hold',
    what: 'The longest unbroken hands-off stretch within a hold of the session; where nobody marked hands, the longest hold of any kind.',
    moves:
      'Everything that moves holds, and chance: the longest of several is decided by one good or one bad moment. It cannot pass the target of the plan while the handler rewards at the target.',
    cannot:
      'How steadily the dog stood meanwhile, or what it cost the dog. It is no record to be beaten: the plan sets the hold target, and a longer hold is not asked for.',
    noise:
      'The least settled of the hold times, since one hold decides it. Read it beside the hands-off hold time of many sessions, never alone.',
  },
  {
    id: 'support-share',
    title: 'Support share',
    what: 'The share of the hold time, from the first mark on, in which somebody had hands on the dog.',
    moves:
      'The dog and the handler alike: a careful handler lets go later and is back sooner. Early or late marks move it; so do very short holds.',
    cannot:
      'How much the hands carried: a fingertip and a full lift are the same mark. Less support is not by itself better: steadying the dog comes first.',
    noise:
      'In a session with half a minute of holds, one second of hands-on is about three percentage points. Smaller differences between two sessions mean nothing.',
  },
]
