import type { Explained } from './explained'

export const tremorWords: readonly Explained[] = [
  {
    id: 'tremor',
    title: 'Tremor band and peak',
    what: 'The usual size of quick, rhythmic motion between 4 and 12 Hz (RMS, three directions together), and its frequency where one rhythm stands clear of the background.',
    moves:
      'Trembling of tired or cold muscles, excitement, panting, a wagging tail, a hand on the harness, a loose sensor, sensor noise. It is never zero: even without any tremor the band holds some motion.',
    cannot:
      'The cause. A tremor when standing, above all above 12 Hz (the fast band), is something to tell the vet about; the number neither finds nor excludes a disease. A sensor of fewer than 30 samples per second cannot carry this band, one of fewer than 45 not the fast one; then there is no number.',
    noise:
      'Tremor is compared as a ratio. In people a fall by about two thirds was needed to exceed the noise of measuring (head tremor); nobody has measured it in dogs. “No distinct peak” is the usual case.',
  },
  {
    id: 'look-alikes',
    title: 'Look-alikes: panting, tail wag, handling',
    what: 'A flag on motion that moves the trunk as panting, a wagging tail or a handling hand does, so that it may be no tremor at all.',
    moves:
      'Warmth, effort and excitement (panting, about 3.5 to 6.5 Hz, mainly up and down and front to back); joy (tail, about 2 to 5 Hz, mainly side to side, with a smaller peak at twice that); a hand, a lead or a harness strap.',
    cannot:
      'It goes by frequency and direction alone and can be wrong both ways: a real tremor between 3.5 and 6.5 Hz along the body looks like panting to it, and unflagged motion may still be panting. You saw the dog; Swaybook did not.',
    noise:
      'A flagged hold is left out of the tremor of sessions compared over weeks unless a person says that it was tremor. Write down what you saw.',
  },
  {
    id: 'tiring',
    title: 'Tiring over the repetitions',
    what: "The sway of the last repetition divided by the first one's, and how much it rises from one repetition to the next.",
    moves:
      'Tiredness; but also excitement at the start, boredom at the end, longer holds later on, and more hands-on, which hides it.',
    cannot:
      'The dog shows it first: extra steps, trembling, a sagging or arched back, panting, looking away, refusing the treat (common practice, no source). A number of 1 × never means that the dog could go on.',
    noise:
      'With three or four repetitions one odd one decides it. Half as much sway again (1.5 ×) is used as a sign to stop (common practice, no source); the plan may set another.',
  },
]
