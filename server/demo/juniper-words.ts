import type { NewDiaryEntry } from '#protocol/diary'
import type { SessionChangeBody } from '#protocol/resources'
import type { NewRepetitionNote } from '#protocol/session-review'
import type { DemoSession } from '#signal/simulator/programme'
import { firstDayOfWeek } from './juniper-plan.ts'

/** What people wrote about Juniper's sixteen weeks; invented, like all of the demo. */

/** Events and medication around the bad fortnight of weeks 7 and 8. */
export function juniperDiary(endDateUs: number): NewDiaryEntry[] {
  const day = (week: number, later = 0) => firstDayOfWeek(endDateUs, week, later)
  return [
    {
      kind: 'event',
      fromDate: day(1),
      untilDate: null,
      title: 'Balance exercises begin',
      dose: null,
      note: 'Shown by Rowan Vale: foam pad, four times a week.',
    },
    {
      kind: 'event',
      fromDate: day(4),
      untilDate: null,
      title: 'New harness',
      dose: null,
      note: 'Same make, one size smaller.',
    },
    {
      kind: 'event',
      fromDate: day(6, 6),
      untilDate: null,
      title: 'Slipped on the stairs',
      dose: null,
      note: 'Up again at once. Walked short on the left hind leg in the evening.',
    },
    {
      kind: 'medication',
      fromDate: day(7, 1),
      untilDate: day(8, 6),
      title: 'Pain relief as prescribed',
      dose: 'as on the label, with food',
      note: null,
    },
    {
      kind: 'note',
      fromDate: day(7, 3),
      untilDate: null,
      title: 'Called Rowan Vale',
      dose: null,
      note: 'Shorter holds until it is better, and stop at the first sign.',
    },
    {
      kind: 'event',
      fromDate: day(9),
      untilDate: null,
      title: 'Rocker board added to the plan',
      dose: null,
      note: null,
    },
  ]
}

/** What the handler said of a session afterwards. */
export function sessionWords({ week, session, truth, exercise }: DemoSession): SessionChangeBody {
  const notes =
    week === 1 && session === 1
      ? 'First time on the pad. She looked for my hand all the time.'
      : week === 7 && session === 1
        ? 'The day after the slip on the stairs. Stopped as soon as she wanted down.'
        : exercise === 'fore paws on rocker board' && week === 9
          ? 'First time on the rocker board.'
          : week === 16 && session === 3
            ? 'She steps onto the pad by herself now.'
            : null
  return {
    setUpConfirmed: true,
    ...(notes !== null && { notes }),
    ...(truth.slipped && { excluded: { reason: 'harness had slipped' } }),
  }
}

/** Stance and signs of fatigue, noted in the bad fortnight and now and then: by the id of the note. */
export function repetitionNotes(demo: DemoSession): Map<string, NewRepetitionNote> {
  const { week, session, repetitionsAtS, truth } = demo
  const [first, , last] = repetitionsAtS
  const notes = new Map<string, NewRepetitionNote>()
  const note = (name: string, atS: number, words: Omit<NewRepetitionNote, 'atS'>) =>
    notes.set(`demo-${week}-${session}-${name}`, { atS: Math.round(10 * atS) / 10, ...words })
  if (truth.badWeek) {
    note('first', first, { stance: 'weight shifted', signs: [], note: 'Spares the left hind leg.' })
    note('last', last, {
      stance: session % 2 === 0 ? 'hind feet tucked under' : 'weight shifted',
      signs: session % 2 === 0 ? ['trembling', 'refusing the treat'] : ['shuffling', 'arched back'],
      note: null,
    })
  } else if (session === 2) {
    note('first', first, { stance: 'square', signs: [], note: null })
    if (week % 4 === 3) note('last', last, { stance: 'square', signs: ['panting'], note: null })
  }
  return notes
}

/** A word beside the answer of the next morning. */
export function checkInNote({ checkIn, truth }: DemoSession): string | undefined {
  if (!truth.badWeek) return undefined
  if (checkIn === 'sore') return 'Stiff when getting up.'
  return checkIn === 'tired' ? 'Slept all evening.' : undefined
}
