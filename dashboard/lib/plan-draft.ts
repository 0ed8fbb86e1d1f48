import type { NewPlan, Plan, PlanExercise } from '#protocol/resources'
import { newMarkId } from './mark-queue'
import { USUAL_REPETITIONS, USUAL_SESSION_CAP_S, USUAL_STOP_RULES } from './plan-words'
import { setUpDraft, typedSetUp } from './set-up'
import type { SetUpDraft } from './set-up'

/** A number as typed; null and undefined are an empty field. */
type Typed = number | null | undefined

export interface ExerciseDraft {
  id: string
  setUp: SetUpDraft
  holdTargetS: Typed
  repetitions: Typed
  notes: string
}

/** A plan as the form holds it: minutes, percent and percentage points, empty where a limit is off. */
export interface PlanDraft {
  exercises: ExerciseDraft[]
  sessionCapMin: Typed
  sessionsPerDay: Typed
  daysPerWeek: Typed
  swayRatio: Typed
  holdPercent: Typed
  supportPoints: Typed
  setBy: string
  validFrom: string
  /** Empty: until somebody changes it. */
  validUntil: string
  notes: string
  /** What began as common practice and is not their word; what is changed in the form is dropped when read. */
  fromPractice: FromPractice[]
}

export type FromPractice = NonNullable<NewPlan['fromPractice']>[number]

const percentOf = (share: number | null) => (share === null ? null : Math.round(share * 1000) / 10)
const shareOf = (percent: Typed) => (percent === null || percent === undefined ? null : percent / 100)
const numberOf = (typed: Typed) => typed ?? null
const wordsOf = (typed: string) => (typed.trim() === '' ? null : typed.trim())

/** An exercise to fill in; the hold target stays empty, since only the therapist can say it. */
export function emptyExercise(): ExerciseDraft {
  return {
    id: newMarkId(),
    setUp: setUpDraft(),
    holdTargetS: null,
    repetitions: USUAL_REPETITIONS,
    notes: '',
  }
}

/** What the form begins with: the plan that holds now, or common practice. `today` is YYYY-MM-DD. */
export function draftOf(plan: Plan | null, today: string): PlanDraft {
  const rules = plan?.stopRules ?? USUAL_STOP_RULES
  const capS = plan ? plan.sessionCapS : USUAL_SESSION_CAP_S
  return {
    exercises: plan ? plan.exercises.map(exerciseDraft) : [emptyExercise()],
    sessionCapMin: capS === null ? null : Math.round((capS / 60) * 1000) / 1000,
    sessionsPerDay: plan?.sessionsPerDay ?? null,
    daysPerWeek: plan?.daysPerWeek ?? null,
    swayRatio: rules.swayRatio,
    holdPercent: percentOf(rules.holdRatio),
    supportPoints: percentOf(rules.supportRise),
    setBy: plan?.setBy ?? '',
    validFrom: today,
    // A last day that is over would end the new version before it began.
    validUntil: plan?.validUntil && plan.validUntil >= today ? plan.validUntil : '',
    notes: plan?.notes ?? '',
    fromPractice: plan ? [...(plan.fromPractice ?? [])] : ['session cap', 'repetitions', 'signs of tiring'],
  }
}

/** What of a draft still stands at common practice. */
export function stillFromPractice(draft: PlanDraft): FromPractice[] {
  const unchanged: Record<FromPractice, boolean> = {
    'session cap': draft.sessionCapMin === USUAL_SESSION_CAP_S / 60,
    repetitions: draft.exercises.every(({ repetitions }) => repetitions === USUAL_REPETITIONS),
    'signs of tiring':
      draft.swayRatio === USUAL_STOP_RULES.swayRatio &&
      draft.holdPercent === percentOf(USUAL_STOP_RULES.holdRatio) &&
      draft.supportPoints === percentOf(USUAL_STOP_RULES.supportRise),
  }
  return draft.fromPractice.filter((part) => unchanged[part])
}

function exerciseDraft({ id, setUp, holdTargetS, repetitions, notes }: PlanExercise): ExerciseDraft {
  return {
    id,
    setUp: setUpDraft(setUp),
    holdTargetS,
    repetitions,
    notes: notes ?? '',
  }
}

/** The plan of a filled-in form. Exercises keep their ids, so that sessions are counted on. */
export function planOf(draft: PlanDraft): NewPlan {
  const capMin = numberOf(draft.sessionCapMin)
  const fromPractice = stillFromPractice(draft)
  return {
    exercises: draft.exercises.map((typed) => ({
      id: typed.id,
      setUp: typedSetUp(typed.setUp),
      holdTargetS: numberOf(typed.holdTargetS),
      repetitions: numberOf(typed.repetitions),
      notes: wordsOf(typed.notes),
    })),
    sessionCapS: capMin === null ? null : Math.round(capMin * 60),
    sessionsPerDay: numberOf(draft.sessionsPerDay),
    daysPerWeek: numberOf(draft.daysPerWeek),
    stopRules: {
      swayRatio: numberOf(draft.swayRatio),
      holdRatio: shareOf(draft.holdPercent),
      supportRise: shareOf(draft.supportPoints),
    },
    ...(fromPractice.length > 0 && { fromPractice }),
    setBy: draft.setBy.trim(),
    validFrom: draft.validFrom,
    // Left out where nobody says: plans from before last days were kept have none.
    ...(draft.validUntil !== '' && { validUntil: draft.validUntil }),
    notes: wordsOf(draft.notes),
  }
}

/** The day in the reader's own zone, YYYY-MM-DD. */
export function dayOf(at: Date): string {
  const two = (value: number) => String(value).padStart(2, '0')
  return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`
}
