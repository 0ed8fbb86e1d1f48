import type { Plan } from './resources.ts'

/** Types only are imported: this runs in the browser too, where no schema library goes. */

/**
 * The plan that applies on a day (YYYY-MM-DD): the newest version that has begun by then. A version replaces
 * those before it for good: when it has ended and no newer one begun, none applies, since only the therapist can
 * say that an older one does again. Null for none.
 */
export function planInForce<P extends Pick<Plan, 'version' | 'validFrom' | 'validUntil'>>(
  plans: readonly P[],
  day: string,
): P | null {
  const newest = newestBegun(plans, day)
  return newest && isOver(newest, day) ? null : newest
}

/** The newest version that has begun by a day and ended before it; null when none did, or one applies. */
export function endedPlan<P extends Pick<Plan, 'version' | 'validFrom' | 'validUntil'>>(
  plans: readonly P[],
  day: string,
): P | null {
  const newest = newestBegun(plans, day)
  return newest && isOver(newest, day) ? newest : null
}

function newestBegun<P extends Pick<Plan, 'version' | 'validFrom'>>(
  plans: readonly P[],
  day: string,
): P | null {
  let newest: P | null = null
  for (const plan of plans) {
    if (plan.validFrom <= day && (newest === null || plan.version > newest.version)) newest = plan
  }
  return newest
}

const isOver = ({ validUntil }: Pick<Plan, 'validUntil'>, day: string) =>
  validUntil !== undefined && validUntil !== null && validUntil < day
