import type { Explained } from './explained'

export const trustWords: readonly Explained[] = [
  {
    id: 'quality',
    title: 'Verdict on the recording: good, usable, poor',
    what: 'Whether the recording can carry the numbers, decided by the worst thing found in it, with the reasons in words.',
    moves:
      'Samples that went missing or came unevenly, too few samples per second, values cut off at the end of the range, a sensor that reads gravity wrongly, and coarse steps: some phones round to steps as large as the sway of a steady dog.',
    cannot:
      '“Good” means that the sensor worked. It does not mean that the harness sat well, that the marks are right, or that the dog stood well.',
    noise:
      'A measure the recording cannot carry is left empty with its reason, never guessed. Compare sessions of one sensor in one place on one harness: a change of sensor is a change of the number.',
  },
  {
    id: 'mount',
    title: 'Mount and heading',
    what: 'How the sensor sits on the dog: gravity in the quiet stand shows which way is up, and a person has to say which way is forward.',
    moves:
      'A harness that turns, slides or is put on differently. When gravity later points more than 10° elsewhere, the session says so and the rest is aligned anew; a dog that sat still for the rest of a recording can look the same.',
    cannot:
      'Without a stated direction, side to side and front to back cannot be told apart: the picture may be turned by any angle, and only numbers that need no direction are given, such as sway and the area of the ellipse.',
    noise:
      "A few degrees of tilt hardly move sway. A sensor that wobbles in its pouch adds motion that is not the dog's: fix that before comparing anything.",
  },
  {
    id: 'gaps',
    title: 'Gaps and coverage',
    what: 'Gaps are moments in which no samples arrived, and coverage is the share of the expected samples that did.',
    moves:
      "Distance from the sensor, the dog's body between sensor and phone, an empty battery, a busy phone.",
    cannot:
      'What the dog did meanwhile. Gaps are never filled in: a longer one (over 0.25 s) ends the hold with “signal lost”, which says nothing about the dog.',
    noise:
      'From 99 % on nothing is lost that matters; below 80 % the recording is poor. A hold in which fewer than 95 % arrived has no tremor figure.',
  },
  {
    id: 'change',
    title: 'Change over weeks: what is more than noise',
    what: 'A change counts only when it is larger than what the same dog shows from day to day on the same set-up while nothing changes.',
    moves:
      'Besides the dog: another surface, spacing, hand, harness, sensor or time of day; and learning. Dogs get used to a moving surface within weeks, so the first three weeks on a new unstable surface count as familiarisation.',
    cannot:
      'Why it changed. Better training, less pain, more pain and stiffening, new medicine or a hot day can look alike. Only the vet and the therapist, with the dog before them, can say.',
    noise:
      'Two sessions never suffice. A trend asks for at least 6 sessions in at least 5 weeks, takes the noise from the first 5 of them, and gives the numbers: how much per 4 weeks, with its interval, and the smallest change that is more than noise. “No change beyond noise” is an honest answer and a common one.',
  },
]
