import type { Explained } from './explained'

export const swayWords: readonly Explained[] = [
  {
    id: 'sway',
    title: 'Sway (RMS) and its interval',
    what: 'The usual size of the slow motion of the trunk in a hold, side to side and front to back together (the root mean square of its acceleration below 3.5 Hz), with an interval that says how far the number could have come out otherwise had the same dog stood the same way at another moment.',
    moves:
      "Surface and spacing most of all. The handler's hand, which can steady or push. Tiredness, excitement, looking around, panting and a wagging tail. Slack in the harness, which lets the sensor swing by itself; where on the back it sits; the noise and the steps of the sensor.",
    cannot:
      'Whether the dog is well. There are no norms for dogs, so each dog is compared with itself only, and less sway is not by itself better: a dog that stiffens to guard something sore can sway less too. Nor which leg is weak, nor whether it hurts, nor whether the dog stands or lies.',
    noise:
      'Where the intervals of two holds overlap widely, they cannot be told apart. Intervals that stay clear of each other speak of those two holds only: between days the same dog differs by more. The range of a hold, from its one extreme to the other, is decided by two moments and jumps most.',
  },
  {
    id: 'ellipse',
    title: '95 % prediction ellipse',
    what: 'Drawn around the sway as seen from above, the ellipse in which the next moment would lie with 95 % probability if the sway scattered evenly (normally) about its middle; its area gives the size, its long axis the main direction.',
    moves:
      'Whatever moves sway, and more strongly, since an area goes with the square. A single large correction stretches it.',
    cannot:
      'It is an ellipse of acceleration, not of centimetres, and no map of where the paws or the centre of gravity were. Several other “95 % ellipses” are in use, some very much smaller: compare only with ones of the same name. Without a known heading its direction on the dog is unknown.',
    noise:
      'It makes changes look large: 20 % more sway is 44 % more area. Judge by the sway, look at the shape.',
  },
  {
    id: 'compare',
    title: 'Sway to compare',
    what: 'The median of the sway over pieces of exactly 5 s of hands-off hold time: the only sway by which sessions are compared.',
    moves:
      'As sway does. Besides, the set-up: on another surface, height, firmness or spacing it is another number. Where nobody marked hands it is taken from all hold time, which says so and is not to be compared with hands-off sessions.',
    cannot:
      'What happened in the parts that make no full piece. Two sessions on different set-ups, or before and after the sensor or harness was changed, say nothing about the dog.',
    noise:
      'With fewer than two pieces it is marked as too few to rely on. Pieces of one hold already differ, as the picture shows; how much sessions differ is shown under “Change over weeks”.',
  },
  {
    id: 'path-rate',
    title: 'Path rate',
    what: 'How far the line of the sway picture runs per second: every small change of the acceleration added up, divided by the time.',
    moves:
      'Quick small corrections, more than slow leaning. Tremor and panting leak into it; sensor noise and coarse steps raise it more than they raise sway.',
    cannot:
      'It is no distance on the floor. A higher rate can be a dog that corrects well or one that struggles: the number does not know which. The sway path of a whole hold grows with its length; only the rate can be set beside another.',
    noise:
      'It depends on how the signal is filtered, so it is comparable only within Swaybook, and between sessions only over 5 s pieces with the same sensor.',
  },
  {
    id: 'jerk',
    title: 'Jerk',
    what: 'How abruptly the sway changes, squared and added up over the hold: smooth swaying gives little, twitchy swaying much.',
    moves:
      'The length of the hold first of all, since it adds up; then quick corrections, tremor, knocks of the harness and sensor noise.',
    cannot: 'What caused a jerk: the dog, the hand, the harness or the floor.',
    noise:
      'It is the most restless number here: being a square, it is four times as large when everything changes twice as fast. Never compare the jerk of holds of different length; over 5 s pieces read it on many sessions only.',
  },
  {
    id: 'sway-spectrum',
    title: 'Sway spectrum (F50, F95, centroid)',
    what: 'Whether the dog sways slowly or quickly: half of the power of the sway between 0.15 and 5 swings per second (Hz) lies below F50, 95 % below F95, and the centroidal frequency is a middle value; side to side (ML) and front to back (CC) each have their own.',
    moves:
      'The build of the dog, the surface, stiffening, panting (which begins below 5 Hz) and a wagging tail.',
    cannot:
      'Good or bad: quicker sway is not better or worse. A hold under 2 s has no spectrum, and a short one a coarse one: 5 s cannot tell 0.5 Hz from 0.6 Hz.',
    noise:
      'A few tenths of a hertz between two holds are noise. It has no trend; use it to look, not to count.',
  },
  {
    id: 'steadiness',
    title: 'Steadiness ratio',
    what: "How many times as much the dog sways in the hold as in the same day's quiet stand on the flat floor; 1 × is as much as on the floor.",
    moves:
      'Both halves. A restless quiet stand makes the ratio small and the hold look good; a very calm one makes it large. It takes out what is the same in both, such as the gain of the sensor or a long-legged build.',
    cannot:
      'Without a marked quiet stand there is none. A falling ratio can be a steadier hold or a shakier quiet stand: look at both.',
    noise:
      'Two uncertain numbers make a more uncertain ratio: take the intervals of both to heart. Between 1.5 × and 1.7 × on two days there is usually nothing to see.',
  },
]
