export interface Term {
  readonly term: string
  readonly meaning: string
}

/** The words Swaybook uses, each for one thing. */
export const GLOSSARY: readonly Term[] = [
  {
    term: 'Dog, handler, therapist',
    meaning: 'The patient; the person with hands on it, often the owner; the professional who sets the plan.',
  },
  {
    term: 'Plan',
    meaning:
      'What the therapist allows: exercise, set-up, hold target, repetitions, session cap, days per week, rules for stopping, dates.',
  },
  {
    term: 'Set-up',
    meaning:
      'The surface, its height and firmness, and the spacing from fore to hind paws. Only like set-ups are compared.',
  },
  {
    term: 'Session, repetition, hold',
    meaning:
      'A sitting; one time up on the surface; an interval in which the dog stands stably. A session has repetitions, a repetition has holds.',
  },
  {
    term: 'Support, hands-on, hands-off',
    meaning:
      'Whether somebody has hands on the dog, marked by a person. A hands-off hold is the outcome that counts.',
  },
  {
    term: 'Quiet stand, floor baseline',
    meaning:
      '10 s on the flat floor at the start of a session: it shows which way is up, and its sway is the floor baseline of the day.',
  },
  { term: 'Sway', meaning: 'Slow motion of the trunk, below 3.5 Hz.' },
  { term: 'Tremor', meaning: 'Rhythmic, quicker motion.' },
  {
    term: 'Steadiness ratio',
    meaning:
      'Sway of a hold divided by the floor baseline of the same day (the idea of the Romberg quotient).',
  },
  { term: 'Check-in', meaning: 'The note of the next day: tired, sore, normal or better.' },
  {
    term: 'Trend',
    meaning:
      'A measure over weeks on one set-up, with its slope, its interval and the smallest change that is more than noise.',
  },
  {
    term: 'CC, ML, DV',
    meaning:
      "Craniocaudal, front to back, + towards the head; mediolateral, side to side, + to the dog's left; dorsoventral, up and down, + up.",
  },
  { term: 'H1, H2', meaning: 'Two horizontal directions while nobody has said which way the sensor faces.' },
  {
    term: 'mm/s², mg',
    meaning:
      'Units of acceleration. 1 mg is a thousandth of gravity, 9.81 mm/s². A slow lean of 1° reads about 171 mm/s².',
  },
  { term: 'Hz', meaning: 'Hertz, times per second.' },
  {
    term: 'RMS',
    meaning: 'Root mean square: the usual size of something that swings to both sides of its middle.',
  },
  {
    term: 'Interval (95 %)',
    meaning:
      'The range of values the measurement does not exclude. Made so that 95 of 100 such ranges contain what would be found on average.',
  },
  { term: 'Median', meaning: 'The middle one when values are put in order: one odd value does not move it.' },
  {
    term: 'Steady, moving, waiting, no signal',
    meaning:
      'The words of the hold view: a hold is running; the dog moves too much for one; the quiet stand is still missing; nothing arrives, so nothing is being measured.',
  },
]
